using System.ComponentModel;
using Spectre.Console.Cli;
using Traceability.Service.Recording;

namespace Traceability.Service.Commands;

public sealed class SetApartOneSettings : VerbSettings
{
    [CommandArgument(0, "<ID>")]
    [Description("The id as listed.")]
    public required Guid Id { get; set; }

    [CommandOption("--hash <HASH>")]
    [Description("The content's hash, or how it begins, where two contents stand under one id.")]
    public string? Hash { get; set; }

    [CommandOption("--person <PERSON>")]
    [Description("The administrator who decides it; the PIN is read from standard input.")]
    public string? Person { get; set; }
}

/// <summary>Lists what is set apart: quarantined, or parked.</summary>
public abstract class SetApartListVerb : Verb<VerbSettings>
{
    protected abstract Task<IReadOnlyList<SetApart>> ListAsync(IServiceProvider services, CancellationToken cancel);

    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, VerbSettings settings, CancellationToken cancel)
    {
        var list = await ListAsync(services, cancel);
        if (settings.Json) terminal.Json(list.Select(QuarantineEndpoints.View));
        else terminal.Table(["id", "hash", "type", "device", "why", "since", "settled"], list.Select(e => new[] { e.Id.ToString(), e.ContentHash[..8], e.Type, e.Device, e.Reason, PlantClock(services, e.SetApartAt), e.SettledAt is { } at ? $"{PlantClock(services, at)} {e.SettledBy}" : "waits" }), "Nothing is set apart.");
        return ExitCodes.Done;
    }
}

/// <summary>Shows one of them whole, or settles it.</summary>
public abstract class SetApartOneVerb : Verb<SetApartOneSettings>
{
    protected static SetApart Pick(IReadOnlyList<SetApart> list, SetApartOneSettings settings)
    {
        var found = list.Where(e => e.Id == settings.Id && (settings.Hash is null || e.ContentHash.StartsWith(settings.Hash, StringComparison.Ordinal))).ToList();
        return found.Count switch
        {
            1 => found[0],
            0 => throw VerbException.NotThere($"Nothing is set apart under {settings.Id}. Look it up in the list again."),
            _ => throw VerbException.Called($"{found.Count} contents stand under {settings.Id}: name one by --hash."),
        };
    }

    protected static int Show(IServiceProvider services, Terminal terminal, SetApart entry, bool json)
    {
        if (json) terminal.Json(QuarantineEndpoints.View(entry));
        else
        {
            terminal.Out.WriteLine($"{entry.Id}  {entry.ContentHash}");
            terminal.Out.WriteLine($"{entry.Type} of {entry.Source}, id {entry.EventId}, device {entry.Device}, person {entry.Person ?? "not named"}");
            terminal.Out.WriteLine($"{entry.Reason}. Set apart {PlantClock(services, entry.SetApartAt)}{(entry.SettledAt is { } at ? $", settled {PlantClock(services, at)}" : "")}.");
            terminal.Out.WriteLine(entry.Text);
        }

        return ExitCodes.Done;
    }

    protected static int Answer(Terminal terminal, LetThrough result, bool json)
    {
        if (result.Recorded is not { } recorded) throw VerbException.NotThere($"It stays where it is: {result.Why}.");
        if (json) terminal.Json(new { record = recorded.RecordId, status = recorded.Status, position = recorded.Position });
        else terminal.Out.WriteLine($"{recorded.Status.ToString().ToLowerInvariant()} as {recorded.RecordId}{(recorded.Position is { } at ? $" at log position {at}" : "")}.");
        return ExitCodes.Done;
    }

    protected static async Task<string> AdministratorAsync(IServiceProvider services, Terminal terminal, SetApartOneSettings settings, CancellationToken cancel) =>
        (await PersonAsync(services, terminal, settings.Person ?? throw VerbException.Called("Name the administrator who decides it: --person."), Core.Events.Roles.Administrator, cancel)).Id;
}

public sealed class ParkedListVerb : SetApartListVerb
{
    protected override Task<IReadOnlyList<SetApart>> ListAsync(IServiceProvider services, CancellationToken cancel) => services.GetRequiredService<Parking>().ListAsync(cancel);
}

public sealed class ParkedShowVerb : SetApartOneVerb
{
    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, SetApartOneSettings settings, CancellationToken cancel) =>
        Show(services, terminal, Pick(await services.GetRequiredService<Parking>().ListAsync(cancel), settings), settings.Json);
}

/// <summary>Drives a parked fact through the recorder again.</summary>
public sealed class ParkedRedriveVerb : SetApartOneVerb
{
    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, SetApartOneSettings settings, CancellationToken cancel)
    {
        var parking = services.GetRequiredService<Parking>();
        var entry = Pick(await parking.ListAsync(cancel), settings);
        await AdministratorAsync(services, terminal, settings, cancel);
        return Answer(terminal, await parking.RedriveAsync(entry.Id, entry.ContentHash, cancel), settings.Json);
    }
}

public sealed class QuarantinedListVerb : SetApartListVerb
{
    protected override Task<IReadOnlyList<SetApart>> ListAsync(IServiceProvider services, CancellationToken cancel) => services.GetRequiredService<Quarantine>().ListAsync(cancel);
}

public sealed class QuarantinedShowVerb : SetApartOneVerb
{
    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, SetApartOneSettings settings, CancellationToken cancel) =>
        Show(services, terminal, Pick(await services.GetRequiredService<Quarantine>().ListAsync(cancel), settings), settings.Json);
}

/// <summary>Clears a quarantined fact: it is recorded and counts from now on, and says who cleared it.</summary>
public sealed class QuarantinedClearVerb : SetApartOneVerb
{
    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, SetApartOneSettings settings, CancellationToken cancel)
    {
        var quarantine = services.GetRequiredService<Quarantine>();
        var entry = Pick(await quarantine.ListAsync(cancel), settings);
        var person = await AdministratorAsync(services, terminal, settings, cancel);
        return Answer(terminal, await quarantine.ClearAsync(entry.Id, entry.ContentHash, person, cancel), settings.Json);
    }
}
