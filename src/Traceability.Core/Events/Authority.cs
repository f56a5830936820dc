using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>
/// A change of who may do what: people by id, never by name, their roles and secrets, and devices. Written by the service alone, in the
/// transaction that makes the change. It bears on no unit, so its subject is the account or the device, which no link leads to.
/// </summary>
public interface IAuthorityChange : IDecision
{
    /// <summary>What was done, in words that follow "p-1 " and end without a full stop.</summary>
    string Words { get; }

    IEnumerable<Link> IFact.Links() => [];
}

/// <summary>A change of a person's account.</summary>
public interface IAccountChange : IAuthorityChange
{
    string Person { get; }

    Subject IFact.About => Subject.Account(Person);
}

/// <summary>A change of a device.</summary>
public interface IDeviceChange : IAuthorityChange
{
    string Device { get; }

    Subject IFact.About => Subject.Device(Device);
}

[Fact("person.registered", 1, Kind = FactKind.Act, Role = Events.Roles.Administrator, Summary = "A person was brought into the register, with roles and a first password.")]
public sealed record PersonRegistered(
    [Identity("person")] string Person,
    [Description("Roles given, those that wait for a second person among them."), Longest(40), Entries(1, 20)] IReadOnlyList<string> Roles,
    [Description("Those of them that wait for a second person."), Longest(40), Entries(1, 20)] IReadOnlyList<string>? Waiting = null) : IAccountChange
{
    public string Words => $"brought {Person} in as {RoleWords.Of(Roles)}, with a first password{RoleWords.Wait(Waiting)}";
}

[Fact("person.roles-set", 1, Kind = FactKind.Act, Role = Events.Roles.Administrator, Summary = "A person was given these roles and no others.")]
public sealed record PersonRolesSet(
    [Identity("person")] string Person,
    [Description("Roles from then on, those that wait for a second person among them."), Longest(40), Entries(1, 20)] IReadOnlyList<string> Roles,
    [Description("Roles until then; empty when none held."), Longest(40), Entries(0, 20)] IReadOnlyList<string> Before,
    [Description("Those of the roles that wait for a second person."), Longest(40), Entries(1, 20)] IReadOnlyList<string>? Waiting = null) : IAccountChange
{
    public string Words => $"gave {Person} the roles {RoleWords.Of(Roles)} in the place of {RoleWords.Of(Before)}{RoleWords.Wait(Waiting)}";
}

[Fact("person.roles-confirmed", 1, Kind = FactKind.Act, Role = Events.Roles.Administrator, Summary = "A second person confirmed the roles of a person that waited: asked in person, with password and PIN of the own choice.")]
public sealed record PersonRolesConfirmed(
    [Identity("person")] string Person,
    [Description("Roles that hold from then on."), Longest(40), Entries(1, 20)] IReadOnlyList<string> Roles,
    [Description("Why it was done on the machine, by nobody who signed for it; null when a second person did it."), Longest(300)] string? Reason = null) : IAccountChange
{
    public string Words => $"confirmed {Person} as {RoleWords.Of(Roles)}{(Reason is null ? "" : $", on the machine: {Reason}")}";

    public IEnumerable<Link> Links() => Reason is null ? [] : [Link.About(AdministratorRecovered.Recoveries)];
}

[Fact("person.roles-refused", 1, Kind = FactKind.Act, Role = Events.Roles.Administrator, Summary = "A second person refused the roles of a person that waited; they do not hold.")]
public sealed record PersonRolesRefused(
    [Identity("person")] string Person,
    [Description("Roles that waited."), Longest(40), Entries(1, 20)] IReadOnlyList<string> Roles,
    [Description("Why."), Longest(300)] string Reason) : IAccountChange
{
    public string Words => $"refused {Person} as {RoleWords.Of(Roles)}: {Reason}";
}

[Fact("person.roles-ended", 1, Kind = FactKind.Act, Role = Events.Roles.Administrator, Summary = "All roles of a person ended.")]
public sealed record PersonRolesEnded([Identity("person")] string Person) : IAccountChange
{
    public string Words => $"ended all roles of {Person}";
}

[Fact("person.sessions-ended", 1, Kind = FactKind.Act, Role = Events.Roles.Administrator, Summary = "All sessions of a person were ended, in browsers and at kiosks.")]
public sealed record SessionsEnded([Identity("person")] string Person) : IAccountChange
{
    public string Words => $"ended all sessions of {Person}";
}

[Fact("person.erased", 1, Kind = FactKind.Act, Role = Events.Roles.Administrator, Summary = "A person's name was erased and all roles ended; the id stays.")]
public sealed record PersonErased([Identity("person")] string Person) : IAccountChange
{
    public string Words => $"erased the name of {Person} and ended all roles";
}

[Fact("secret.given", 1, Kind = FactKind.Act, Role = Events.Roles.Administrator, Summary = "A person was given a new first password; password and PIN in use ended.")]
public sealed record SecretGiven(
    [Identity("person")] string Person,
    [Description("Roles that wait for a second person again."), Longest(40), Entries(1, 20)] IReadOnlyList<string>? Waiting = null) : IAccountChange
{
    public string Words => $"gave {Person} a new first password{RoleWords.Wait(Waiting)}";
}

[Fact("secret.chosen", 1, Kind = FactKind.Act, Role = Events.Roles.Administrator, Summary = "A person chose an own password or PIN.")]
public sealed record SecretChosen(
    [Identity("person")] string Person,
    [Description("Whether the password changed.")] bool Password,
    [Description("Whether the PIN changed.")] bool Pin) : IAccountChange
{
    public string Words => $"chose a new {(Password && Pin ? "password and PIN" : Pin ? "PIN" : "password")}";
}

[Fact("passkey.added", 1, Kind = FactKind.Act, Role = Events.Roles.Administrator, Summary = "A person added a passkey to sign in with.")]
public sealed record PasskeyAdded(
    [Identity("person")] string Person,
    [Description("SHA-256 of its public key (COSE_Key), lower-case hex."), Longest(64)] string KeySha256) : IAccountChange
{
    public string Words => "added a passkey";
}

[Fact("passkey.removed", 1, Kind = FactKind.Act, Role = Events.Roles.Administrator, Summary = "A person removed a passkey.")]
public sealed record PasskeyRemoved(
    [Identity("person")] string Person,
    [Description("SHA-256 of its public key (COSE_Key), lower-case hex."), Longest(64)] string KeySha256) : IAccountChange
{
    public string Words => "removed a passkey";
}

[Fact("device.enrolled", 1, Kind = FactKind.Act, Role = Events.Roles.Administrator, Summary = "A device was enrolled with a code; the record's person made the code.")]
public sealed record DeviceEnrolled(
    [Identity("device")] string Device,
    [Description("Roles whose facts it may send."), Longest(40), Entries(1, 20)] IReadOnlyList<string> Roles,
    [Description("SHA-256 of the public key it signs with (SubjectPublicKeyInfo), lower-case hex."), Longest(64)] string KeySha256,
    [Description("That key, base64, so that whoever has the record can check what the device signed."), Longest(200)] string? PublicKey = null) : IDeviceChange
{
    public string Words => $"made the code with which {Device} was enrolled for {RoleWords.Of(Roles)}";
}

[Fact("device.revoked", 1, Kind = FactKind.Act, Role = Events.Roles.Administrator, Summary = "A device was revoked.")]
public sealed record DeviceRevoked([Identity("device")] string Device) : IDeviceChange
{
    public string Words => $"revoked {Device}";
}

[Fact("device.tied", 1, Kind = FactKind.Act, Role = Events.Roles.Administrator, Summary = "A device was tied to the sources it sends under.")]
public sealed record DeviceTied(
    [Identity("device")] string Device,
    [Description("Sources; empty when it was untied."), Longest(200), Entries(0, 20)] IReadOnlyList<string> Sources) : IDeviceChange
{
    public string Words => Sources.Count == 0 ? $"untied {Device} from its sources" : $"tied {Device} to {string.Join(", ", Sources)}";
}

internal static class RoleWords
{
    public static string Wait(IReadOnlyList<string>? waiting) => waiting is null ? "" : $"; {Of(waiting)} {(waiting.Count == 1 ? "waits" : "wait")} for a second person";

    public static string Of(IReadOnlyList<string> roles) => roles.Count == 0 ? "none" : string.Join(", ", roles.Select(r => r.Replace('-', ' ')));
}
