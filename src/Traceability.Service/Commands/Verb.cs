using System.ComponentModel;
using Marten;
using Spectre.Console.Cli;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Service.Linking;
using Traceability.Service.People;
using Traceability.Service.Units;

namespace Traceability.Service.Commands;

/// <summary>What every verb can be asked.</summary>
public class VerbSettings : CommandSettings
{
    [CommandOption("--json")]
    [Description("The answer as JSON on standard output.")]
    public bool Json { get; set; }
}

/// <summary>As known at a log position or a moment.</summary>
public class ThenSettings : VerbSettings
{
    [CommandOption("--position <POSITION>")]
    [Description("As known at this log position.")]
    public string? Position { get; set; }

    [CommandOption("--at <TIME>")]
    [Description("As known at this moment, with its offset: 2026-05-04T07:00:00-05:00.")]
    public string? At { get; set; }
}

/// <summary>A verb over the plant's store: the service's own parts, without its servers and workers.</summary>
public abstract class Verb<TSettings> : AsyncCommand<TSettings> where TSettings : VerbSettings
{
    /// <summary>Roles of the service whose parts the verb needs.</summary>
    protected virtual string Roles => "worker";

    protected sealed override async Task<int> ExecuteAsync(CommandContext context, TSettings settings, CancellationToken cancellationToken)
    {
        var terminal = (Terminal)context.Data!;
        await using var app = Operations.Host.Build([$"--Roles={Roles}", "--Bus=inprocess", .. terminal.Settings]);
        return await RunAsync(app.Services, terminal, settings, cancellationToken);
    }

    protected abstract Task<int> RunAsync(IServiceProvider services, Terminal terminal, TSettings settings, CancellationToken cancel);

    /// <summary>A moment as the plant's clock shows it, with its offset.</summary>
    protected static string PlantClock(IServiceProvider services, DateTimeOffset at) =>
        services.GetRequiredService<PlantTime>().Local(at).ToString("yyyy-MM-dd HH:mm:ss zzz", System.Globalization.CultureInfo.InvariantCulture);

    protected static Subject SubjectOf(string text) =>
        Subject.TryParse(text, out var subject) ? subject : throw VerbException.Called($"'{text}' is no subject: write kind:id, for example lot:producer/number or cage:C-101.");

    protected static async Task<AsKnown?> ThenAsync(IServiceProvider services, ThenSettings settings, CancellationToken cancel)
    {
        var (asKnown, problem) = await AsKnownQuery.ReadAsync(services.GetRequiredService<DossierStore>(), settings.Position, settings.At, cancel);
        return problem is null ? asKnown : throw VerbException.Called(problem.Detail!);
    }

    /// <summary>
    /// The person of the register on whose behalf a verb changes something: with the role, in force, and with the PIN as the
    /// next line of standard input, so that it stands in no list of processes and no history.
    /// </summary>
    protected static async Task<Person> PersonAsync(IServiceProvider services, Terminal terminal, string id, string role, CancellationToken cancel)
    {
        await using var session = services.GetRequiredService<IDocumentStore>().QuerySession();
        var now = services.GetRequiredService<TimeProvider>().GetUtcNow();
        if (await session.LoadAsync<Person>(id, cancel) is not { } person || person.LapsedAt <= now || !person.Roles.Contains(role, StringComparer.Ordinal))
            throw VerbException.NotThere($"{id} is not in the register as {role.Replace('-', ' ')}. Name a person with that role.");
        if (person.PinIsGiven) throw VerbException.NotThere(Signing.GivenPin(person).Detail!);
        await terminal.Error.WriteLineAsync($"PIN of {id}, on one line:");
        var pin = await terminal.In.ReadLineAsync(cancel);
        var attempts = services.GetRequiredService<Attempts>();
        AttemptCount[] counts = [AttemptCount.Person("pin", id, true)];
        if (attempts.Take(counts) is { } wait) throw VerbException.NotThere($"Too many wrong tries for this PIN. Try again in {Math.Ceiling(wait.TotalMinutes):0} minutes. Nothing was changed.");
        if (!services.GetRequiredService<Secrets>().Fits(person.PinHash, pin?.Trim() ?? "")) throw VerbException.NotThere("The PIN is not right. Nothing was changed.");
        attempts.WasRight(counts);
        return person;
    }
}
