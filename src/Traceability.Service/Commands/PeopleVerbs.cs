using System.ComponentModel;
using Marten;
using Spectre.Console.Cli;
using Traceability.Service.People;

namespace Traceability.Service.Commands;

/// <summary>Who is in the register, by id; names and secrets are not shown.</summary>
public sealed class PeopleListVerb : Verb<VerbSettings>
{
    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, VerbSettings settings, CancellationToken cancel)
    {
        await using var session = services.GetRequiredService<IDocumentStore>().QuerySession();
        var people = await session.Query<Person>().OrderBy(p => p.Id).ToListAsync(cancel);
        if (settings.Json) terminal.Json(people.Select(p => new { id = p.Id, roles = p.Roles, waitingRoles = p.WaitingRoles, lapsedAt = p.LapsedAt }));
        else terminal.Table(["person", "roles", "waiting", "lapsed"], people.Select(p => new[] { p.Id, string.Join(", ", p.Roles), string.Join(", ", p.WaitingRoles), p.LapsedAt is { } at ? PlantClock(services, at) : "" }), "Nobody is in the register. Name a file of first people: People__BootstrapFile.");
        return ExitCodes.Done;
    }
}

/// <summary>The stations' devices and kiosks.</summary>
public sealed class DevicesListVerb : Verb<VerbSettings>
{
    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, VerbSettings settings, CancellationToken cancel)
    {
        await using var session = services.GetRequiredService<IDocumentStore>().QuerySession();
        var devices = await session.Query<Device>().OrderBy(d => d.Id).ToListAsync(cancel);
        if (settings.Json) terminal.Json(devices.Select(d => new { id = d.Id, name = d.Name, roles = d.Roles, signs = d.PublicKey is not null, revokedAt = d.RevokedAt }));
        else terminal.Table(["device", "name", "roles", "signs", "revoked"], devices.Select(d => new[] { d.Id, d.Name, string.Join(", ", d.Roles), d.PublicKey is null ? "no" : "yes", d.RevokedAt is { } at ? PlantClock(services, at) : "" }), "No device is enrolled.");
        return ExitCodes.Done;
    }
}

public sealed class DeviceCodeSettings : VerbSettings
{
    [CommandArgument(0, "<ROLES>")]
    [Description("Roles whose facts the kiosk may send, with commas between.")]
    public required string Roles { get; set; }

    [CommandOption("--person <PERSON>", isRequired: true)]
    [Description("The administrator who makes it; the PIN is read from standard input.")]
    public string? Person { get; set; }
}

/// <summary>A code with which a kiosk enrols itself.</summary>
public sealed class DeviceCodeVerb : Verb<DeviceCodeSettings>
{
    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, DeviceCodeSettings settings, CancellationToken cancel)
    {
        var roles = settings.Roles.Split(',', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries);
        if (roles.Length == 0 || roles.Except(DeviceEndpoints.StationRoles).FirstOrDefault() is not null)
            throw VerbException.Called("Name roles of stations: " + string.Join(", ", DeviceEndpoints.StationRoles) + ".");
        var person = await PersonAsync(services, terminal, settings.Person!, Core.Events.Roles.Administrator, cancel);
        var (code, until) = await ActivatorUtilities.CreateInstance<EnrolmentCodes>(services).MakeAsync(roles, person.Id, cancel);
        if (settings.Json) terminal.Json(new { code, validUntil = until });
        else terminal.Out.WriteLine($"{code}  once, until {PlantClock(services, until)}");
        return ExitCodes.Done;
    }
}
