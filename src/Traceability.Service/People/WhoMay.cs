using System.Security.Claims;
using Microsoft.AspNetCore.Mvc;
using Traceability.Core.Events;
using Traceability.Service.Operations;

namespace Traceability.Service.People;

/// <summary>One row of the table: an action and who may take it.</summary>
/// <param name="Action">Name of the endpoints' policy.</param>
/// <param name="What">The action in words, as it begins a sentence.</param>
/// <param name="Roles">Roles that may; on an object of another person where that matters.</param>
/// <param name="Rule">What else is asked for; empty when nothing is.</param>
public sealed record Permission(string Action, string What, IReadOnlyList<string> Roles, string Rule = "")
{
    /// <summary>Roles that may on an object of their own; the same as <see cref="Roles"/> where it makes no difference.</summary>
    public IReadOnlyList<string> Own { get; init; } = Roles;

    /// <summary>Whether it is open to everybody, signed on or not.</summary>
    public bool Anyone { get; init; }

    /// <summary>Whether a station's device may, without a person.</summary>
    public bool Devices { get; init; }

    /// <summary>Whether a revoked device still may: what it sends is kept, and it learns that it is quarantined.</summary>
    public bool RevokedDevices { get; init; }

    /// <summary>Whether only the request's body says whose the object is: the door lets in who may with either, and the action looks at the object.</summary>
    public bool OwnerInBody { get; init; }

    /// <summary>Whether a person may whose secrets were given and not yet changed: reading, and choosing own ones.</summary>
    public bool WithGivenSecrets { get; init; }

    public bool OwnerMatters => !Own.SequenceEqual(Roles);

    /// <summary>Whether any of these roles may.</summary>
    /// <param name="own">Whether the object is the person's own.</param>
    public bool Allows(IEnumerable<string> roles, bool own) => Anyone || roles.Intersect(own ? Own : Roles, StringComparer.Ordinal).Any();

    /// <summary>The value of a route or a form that names the person an object belongs to.</summary>
    public const string PersonValue = "id";

    /// <summary>Whether what a request is about belongs to the caller.</summary>
    public bool IsOwn(ClaimsPrincipal user, string? person) => OwnerMatters && person == user.PersonId();

    /// <summary>Whether the caller may pass the door.</summary>
    /// <param name="own">Whether the object is the caller's own.</param>
    public bool Allows(ClaimsPrincipal user, bool own) => Anyone || user.Identities.Any(i => i.AuthenticationType == Access.DeviceScheme
        ? Devices && (RevokedDevices || !i.HasClaim(DeviceAuthentication.RevokedClaim, "true"))
        : (WithGivenSecrets || !i.HasClaim(c => c.Type == Access.GivenClaim)) && (own ? Own : Roles).Any(r => i.HasClaim(ClaimTypes.Role, r)));

    /// <summary>Whether the caller may pass the door, as far as can be told before the body is read.</summary>
    public bool PassesDoor(ClaimsPrincipal user, bool own) => Allows(user, own) || (OwnerInBody && Allows(user, own: true));

    /// <summary>The refusal in words: what, who may, and who was asking.</summary>
    public ProblemDetails Refusal(ClaimsPrincipal user) => user.HasClaim(DeviceAuthentication.RevokedClaim, "true")
        ? Problems.Of(StatusCodes.Status403Forbidden, "who-may", "This device was revoked", "This kiosk was revoked. Ask an administrator.", ("action", Action))
        : !WithGivenSecrets && user.HasClaim(Access.GivenClaim, Access.Waits)
        ? Problems.Of(StatusCodes.Status403Forbidden, "second-person", "Your role waits for a second person",
            $"{user.PersonId()} is to be {string.Join(", ", user.FindAll(ClaimTypes.Role).Select(r => r.Value.Replace('-', ' ')))}: a quality engineer or second approver confirms that on the page Waiting for me. Until then you can read and nothing else. Nothing was changed.", ("action", Action))
        : !WithGivenSecrets && user.HasClaim(Access.GivenClaim, Access.NoPasskey)
        ? Problems.Of(StatusCodes.Status403Forbidden, "passkey-needed", "Add a passkey first",
            $"Here administrators and those who decide sign in with a passkey, and {user.PersonId()} has none. Add one on the account page (/account), then sign in with it. Nothing was changed.", ("action", Action))
        : !WithGivenSecrets && user.HasClaim(Access.GivenClaim, "true")
        ? Problems.Of(StatusCodes.Status403Forbidden, "pin-given", "Choose your own password and PIN first",
            $"{user.PersonId()} signed in with a password that was given, which is good for reading only. Choose your own password and PIN on the account page (/account). Nothing was changed.", ("action", Action))
        : Problems.Of(StatusCodes.Status403Forbidden, "who-may", "Another role does this",
            $"{What}: {WhoMay.Words(this)}.{(Rule.Length > 0 ? " " + Rule : "")} You are {user.PersonId()} ({string.Join(", ", user.FindAll(ClaimTypes.Role).Select(r => r.Value.Replace('-', ' ')))}). Nothing was changed; ask one of those who may, or the administrator for the role.",
            ("action", Action));
}

/// <summary>
/// Who may do what: the one table. The endpoints' policies are made from it, docs/who-may-do-what.md is written from it, and
/// a test tries every endpoint as every role against it. An endpoint without a row here does not pass that test.
/// </summary>
public static class WhoMay
{
    private static readonly IReadOnlyList<string> Everybody = Roles.All;

    public static IReadOnlyList<Permission> Table { get; } =
    [
        new(Access.Open, "Sign on and off, enroll with a code, read schemas, the clock, health and the description of the interface", []) { Anyone = true },
        new(Access.Read, "Read everything, as known at any time", Everybody, "The auditor reads everything and changes nothing. An agency's inspector reads the contracts of the agencies assigned to that person that day, and stock cast to their profiles; what spans contracts is closed to inspectors.") { WithGivenSecrets = true },
        new(Access.ReadOrDevice, "Read units, their records and the sealed log", Everybody, "An agency's inspector own contracts only.") { Devices = true, WithGivenSecrets = true },
        new(Access.LogEntries, "Read every record of the log as it is sealed", [Roles.QualityEngineer, Roles.Auditor], "For a monitor of the log; it holds the records of all contracts."),
        new(Access.FreeText, "Ask whether a text that is to be recorded names somebody in the register", [.. Roles.All.Except([Roles.Auditor, Roles.AgencyInspector])], "Asked by the pages before they send it; the answer is yes or no. No device may ask, so that nobody learns names with a station's key."),
        new(Access.Account, "Choose one's own password and PIN, end one's own other sessions", [], "Signed with the password in use.") { Own = Everybody, WithGivenSecrets = true },
        new(Access.Device, "Send facts of a station", [], "By a station's device; who may record which fact is listed below. What a revoked device sends is kept and quarantined.") { Devices = true, RevokedDevices = true },
        new(Access.Receipts, "Ask what became of facts that were sent", Everybody) { Devices = true, RevokedDevices = true, WithGivenSecrets = true },
        new(Access.Kiosk, "Sign a person on at a kiosk", [], "By the kiosk's device, with badge and PIN.") { Devices = true },
        new(Access.Release, "Release a hold that is ready", [Roles.PlantInspector, Roles.QualityEngineer], "Signed with the PIN; judged at that moment."),
        new(Access.Override, "Override a plant hold", [Roles.QualityEngineer], "With a reason and a second approver who is not of production and neither made nor scheduled the unit, both with their PINs at that moment. Never an agency's hold, a lifting check or domestic steel: there it is recorded as a breach and opens nothing."),
        new(Access.Correct, "Correct or withdraw a record", [Roles.QualityEngineer], "The author only while no decision rests on the record. A change that turns a finding for the better needs a second approver and is listed, unless its author fixes a slip of the shift on which nothing rests.") { Own = [.. Roles.All.Except([Roles.Administrator, Roles.Auditor])], OwnerInBody = true },
        new(Access.Claims, "Confirm or refuse acts that were sent in one's own name without proof", [.. Roles.All.Except([Roles.Administrator, Roles.Auditor])], "One's own only; signed with the PIN."),
        new(Access.Approve, "Approve or refuse, as the second person, what opens something by saying it anew", [.. Roles.All.Where(r => ApprovesSecond([r]))], "Never one's own, and not of production nor of those who scheduled the unit; signed with the PIN."),
        new(Access.Confirm, "Confirm or refuse, as the second person, roles that decide and new first passwords of those who hold them", [.. Roles.All.Where(r => ApprovesSecond([r]))], "Never one's own; the person is asked first, in person; signed with the PIN.") { Own = [] },
        new(Access.Agency, "Record the agency's release, presence, waiver, rejection, stamp or acceptance", [Roles.AgencyInspector, Roles.QualityEngineer], "By an inspector of the agency of the unit's contract, assigned on that day, or by the quality engineer from the agency's letter, uploaded before, or from a telephone call where the profile allows that. Corrected and withdrawn by that agency's inspectors alone; a slip of the plant's in entering a letter by the quality engineer and a second person."),
        new(Access.Letters, "Upload a letter", [Roles.QualityEngineer], "Kept under the hash of its bytes."),
        new(Access.Inspectors, "Assign inspectors to agencies, for a time", [Roles.QualityEngineer, Roles.Administrator], "Never oneself; signed with the PIN."),
        new(Access.Dispose, "Decide what becomes of a nonconformance", [Roles.QualityEngineer], "Repair or use as is of a structural or major one needs the engineer of record's letter first."),
        new(Access.Lots, "Quarantine and clear a lot", [Roles.QualityEngineer], "Receiving may quarantine from its station too."),
        new(Access.Profiles, "Confirm the limits of a profile, say which profile judges a contract", [Roles.QualityEngineer], "Each limit against a page of its document; signed with the PIN."),
        new(Access.Allocate, "Allocate a stock unit, give a unit another mark or contract", [Roles.QualityEngineer], "Judged anew under that contract's profile."),
        new(Access.QualityEngineer, "Issue a record packet, its supplement or a load certificate", [Roles.QualityEngineer], "Signed with the PIN; judged at that moment."),
        new(Access.Integrity, "Review the integrity of the records", [Roles.QualityEngineer, Roles.Auditor], "It shows whose records look odd; no judgement and no packet reads it."),
        new(Access.SetApart, "Clear quarantined facts and drive parked ones through again", [Roles.Administrator], "Whether a station may send, not whether a piece is good. A cleared act waits for its person to confirm it."),
        new(Access.Administrator, "Make enrollment codes, revoke devices, tie their sources", [Roles.Administrator]),
        new(Access.People, "See who is in the register and bring people in", [Roles.Administrator], "A password that was given reads and does nothing else until its owner chose an own password and PIN."),
        new(Access.PeopleOfOthers, "Grant roles and let them lapse, give new secrets, end sessions, erase names", [Roles.Administrator], "Never one's own. A role that decides, and a new first password of a person who holds one, waits for a second person.") { Own = [] },
        new(Access.Scenario, "Set the scenario clock", [Roles.Administrator], "Demonstrations only."),
    ];

    /// <summary>Doors that are open on purpose. Any other endpoint without a policy fails the test of the doors.</summary>
    public static IReadOnlyList<string> OpenDoors { get; } =
    [
        "GET /health/live", "GET /health/ready", "GET /openapi/{documentName}.json", "GET /v1/schemas", "GET /v1/schemas/{type}", "GET /v1/time",
        "GET /log/checkpoint", "GET /log/tile/{level:int}/{**index}", "GET /log/succession", "POST /log/cosignatures",
        "GET /sign-in", "POST /sign-in", "POST /sign-in?handler=Passkey", "GET /sign-out", "POST /sign-out", "GET /not-allowed", "GET /went-wrong/{code:int}", "POST /went-wrong/{code:int}", "POST /v1/sign-in", "POST /v1/sign-out", "POST /v1/devices/enrol",
    ];

    private static readonly Dictionary<string, Permission> ByAction = Table.ToDictionary(p => p.Action, StringComparer.Ordinal);

    public static Permission To(string action) => ByAction[action];

    public static bool Has(string action) => ByAction.ContainsKey(action);

    /// <summary>Whether a person with these roles may record facts of a type: with the station's role, or as quality engineer standing in.</summary>
    public static bool Records(FactType type, IEnumerable<string> roles) => roles.Any(r => r == Roles.QualityEngineer || type.Roles.Contains(r));

    /// <summary>
    /// Why a station's fact that tells what somebody decided cannot stand as sent; null when it can. Stations sign nothing: such a fact names its person,
    /// and what the agency did comes from a station only in its inspector's own name.
    /// </summary>
    public static string? NotDecidedSo(IFact fact, Person? person)
    {
        // What the plant enters for the agency rests on an uploaded letter, which a station does not have.
        if (fact is IAgencyAct && person is not null && !person.Roles.Contains(Roles.AgencyInspector))
            return $"{person.Id} is not the agency's inspector; the agency's letter is uploaded and entered at the service, not from a station";
        if (fact is IAgencyAct { LetterSha256: not null } or AgencyHoldReleased { Telephone: not null }) return "a letter or a telephone call of the agency is entered at the service, not from a station";
        return FactCatalog.Of(fact).Kind == FactKind.Act && person is null ? "it tells what somebody decided and names nobody" : null;
    }

    /// <summary>Whether a person with these roles may give the second approval: quality engineer, or named by the plant, and not of production.</summary>
    public static bool ApprovesSecond(IReadOnlyList<string> roles) =>
        roles.Intersect([Roles.QualityEngineer, Roles.SecondApprover]).Any() && !roles.Intersect(Roles.Production, StringComparer.Ordinal).Any();

    /// <summary>The refusal of a second approver.</summary>
    public static ProblemDetails NotSecond(Person person) => Problems.Of(StatusCodes.Status403Forbidden, "second-approver", "This person does not give the second approval",
        $"secondApprover: {person.Id} is {string.Join(", ", person.Roles.Select(r => r.Replace('-', ' ')))}; the second approval is given by a quality engineer or whom the plant named second approver, and not by anybody of production ({string.Join(", ", Roles.Production.Select(r => r.Replace('-', ' ')))}). Ask another. Nothing was recorded.");

    /// <summary>Who may, in words.</summary>
    public static string Words(Permission permission)
    {
        if (permission.Anyone) return "anybody may";
        var who = new List<string>();
        if (permission.Roles.SequenceEqual(Everybody)) who.Add("any signed-on person");
        else who.AddRange(permission.Roles.Select(r => r.Replace('-', ' ')));
        if (permission.Devices) who.Add("a station's device");
        if (!permission.OwnerMatters) return string.Join(", ", who) + " may";
        var own = permission.Own.SequenceEqual(Everybody) ? "any signed-on person" : string.Join(", ", permission.Own.Select(r => r.Replace('-', ' ')));
        return permission.Own.Count == 0 ? string.Join(", ", who) + " may, for another person only"
            : permission.Roles.Count == 0 ? own + " may, one's own only"
            : $"{own} may with what is their own; {string.Join(", ", who)} with what is another's";
    }
}
