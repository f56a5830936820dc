using System.ComponentModel;
using Spectre.Console.Cli;
using Traceability.Core.Records;
using Traceability.Service.Board;
using Traceability.Service.Linking;
using Traceability.Service.Pages;
using Traceability.Service.Replay;
using Traceability.Service.Units;

namespace Traceability.Service.Commands;

public sealed class ReplayOneSettings : ThenSettings
{
    [CommandArgument(0, "<ID>")]
    [Description("The unit's serial, or the pour.")]
    public required string Id { get; set; }
}

/// <summary>A unit as known at a position or moment.</summary>
public sealed class ReplayUnitVerb : Verb<ReplayOneSettings>
{
    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, ReplayOneSettings settings, CancellationToken cancel)
    {
        var asKnown = await ThenAsync(services, settings, cancel);
        if (!Subject.IsId(settings.Id, "unit")) throw VerbException.Called($"'{settings.Id}' is no serial.");
        var unit = await services.GetRequiredService<UnitReader>().ReadAsync(Subject.Unit(settings.Id), asKnown, cancel);
        if (unit.Dossier.Records.Count == 0) throw VerbException.NotThere($"No record bears on {settings.Id} by then.");
        if (settings.Json)
        {
            terminal.Json(new { unit = settings.Id, position = unit.Dossier.Position, at = unit.At, records = unit.Dossier.Records.Count, judgement = JudgementText.Of(unit.Judgement) });
            return ExitCodes.Done;
        }

        terminal.Out.WriteLine($"Unit {settings.Id} as known at log position {unit.Dossier.Position}, {PlantClock(services, unit.At)}; {unit.Dossier.Records.Count} records; judgement {unit.Judgement.Hash[..12]} under rules {unit.Judgement.RulesVersion}.");
        terminal.Table(["hold", "state", "to clear"], unit.Judgement.Holds.Select(h => new[] { Words.Of(h.Kind), Words.Of(h.State), h.OpenItems.Count.ToString() }), "It has no holds.");
        terminal.Table(["requirement", "subject", "verdict", "why"], unit.Judgement.Findings.Where(f => !f.Allows).Select(f => new[] { f.Title, f.Subject, Words.Of(f.Verdict).Word, f.Reason }), "Nothing stands in the way.");
        return ExitCodes.Done;
    }
}

/// <summary>A pour and its units as known at a position or moment.</summary>
public sealed class ReplayPourVerb : Verb<ReplayOneSettings>
{
    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, ReplayOneSettings settings, CancellationToken cancel)
    {
        var asKnown = await ThenAsync(services, settings, cancel);
        if (!Subject.IsId(settings.Id, "pour") || await services.GetRequiredService<ReplayReader>().PourAsync(Subject.Pour(settings.Id), asKnown, cancel) is not { } pour)
            throw VerbException.NotThere($"No record is about the pour {settings.Id} by then.");
        if (settings.Json)
        {
            terminal.Json(ReplayEndpoints.View(pour));
            return ExitCodes.Done;
        }

        terminal.Out.WriteLine($"Pour {pour.Pour} as known at log position {pour.AsKnown.Position}, {PlantClock(services, pour.AsKnown.At)}; {pour.Records.Count} records about it.");
        terminal.Table(["unit", "holds"], pour.Units.Select(u => new[] { u.Dossier.Unit.Id, string.Join(", ", u.Judgement.Holds.Select(h => $"{Words.Of(h.Kind).ToLowerInvariant()} {Words.Of(h.State)}")) }), "It went into no unit by then.");
        return ExitCodes.Done;
    }
}

/// <summary>The ten questions of the board as known at a position or moment.</summary>
public sealed class ReplayBoardVerb : Verb<ThenSettings>
{
    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, ThenSettings settings, CancellationToken cancel)
    {
        var asKnown = await ThenAsync(services, settings, cancel);
        var reader = ActivatorUtilities.CreateInstance<BoardReader>(services, ActivatorUtilities.CreateInstance<PlantSettings>(services));
        var board = asKnown is null ? await reader.ReadAsync(cancel) : await reader.ReadAsync(asKnown, cancel);
        if (settings.Json)
        {
            terminal.Json(BoardEndpoints.View(board));
            return ExitCodes.Done;
        }

        terminal.Out.WriteLine($"The board as of log position {board.Position}, {PlantClock(services, board.At)}; {board.UnitsInPlant} units in the plant.");
        foreach (var question in board.Questions)
        {
            terminal.Out.WriteLine();
            terminal.Out.WriteLine($"{question.Number}. {question.Title}");
            if (question.Lines.Count == 0) terminal.Out.WriteLine("   " + question.None);
            foreach (var line in question.Lines) terminal.Out.WriteLine($"   {line.Mark.Symbol} {line.Name}: {line.Mark.Word}. {line.Text}");
        }

        return ExitCodes.Done;
    }
}

public sealed class ReplayChangesSettings : VerbSettings
{
    [CommandArgument(0, "[UNIT]")]
    [Description("One unit's serial; the whole plant when left out.")]
    public string? Unit { get; set; }

    [CommandOption("--from <FROM>", isRequired: true)]
    [Description("Log position, or moment with its offset.")]
    public string? From { get; set; }

    [CommandOption("--to <TO>")]
    [Description("The same; now when left out.")]
    public string? To { get; set; }
}

/// <summary>What changed between two moments.</summary>
public sealed class ReplayChangesVerb : Verb<ReplayChangesSettings>
{
    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, ReplayChangesSettings settings, CancellationToken cancel)
    {
        var replay = services.GetRequiredService<ReplayReader>();
        var (ends, problem) = await ReplayEndpoints.EndsAsync(replay, services.GetRequiredService<DossierStore>(), settings.From, settings.To, cancel);
        if (problem is not null) throw VerbException.Called(problem.Detail!);
        IReadOnlyList<UnitChanges> units;
        if (settings.Unit is { } unit)
        {
            units = Subject.IsId(unit, "unit") && await replay.UnitAsync(Subject.Unit(unit), ends.From, ends.To, cancel) is { } one ? [one] : throw VerbException.NotThere($"No record bears on {unit} by then.");
            if (settings.Json) terminal.Json(new { from = ends.From, to = ends.To, change = ReplayEndpoints.View(one) });
        }
        else
        {
            var plant = await replay.PlantAsync(ends.From, ends.To, cancel);
            units = plant.Units;
            if (settings.Json) terminal.Json(ReplayEndpoints.View(plant));
            else terminal.Out.WriteLine($"{plant.Records} records came in{(plant.More ? $"; more than {ReplayReader.MostUnits} units are touched, the first of them are shown" : "")}.");
        }

        if (settings.Json) return ExitCodes.Done;
        terminal.Table(["unit", "records", "holds", "findings"], units.Select(u => new[]
        {
            u.Unit, u.Records.Count.ToString(), string.Join(", ", u.Changes.Holds.Select(h => $"{h.Kind} {h.Before?.State ?? "-"} > {h.After?.State ?? "-"}")),
            string.Join(", ", u.Changes.Findings.Select(f => $"{f.Either.Requirement} {f.Before?.Verdict ?? "-"} > {f.After?.Verdict ?? "-"}").Distinct()),
        }), "No unit was touched.");
        return ExitCodes.Done;
    }
}

public sealed class ReplayDecisionSettings : VerbSettings
{
    [CommandArgument(0, "<RECORD>")]
    [Description("The id of the release or override.")]
    public required Guid Record { get; set; }
}

/// <summary>The judgement kept with a decision beside the same records under today's rules.</summary>
public sealed class ReplayDecisionVerb : Verb<ReplayDecisionSettings>
{
    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, ReplayDecisionSettings settings, CancellationToken cancel)
    {
        var decision = await services.GetRequiredService<ReplayReader>().DecisionAsync(settings.Record, cancel) ?? throw VerbException.NotThere($"No decision is recorded under {settings.Record}.");
        if (settings.Json)
        {
            terminal.Json(ReplayEndpoints.View(decision));
            return ExitCodes.Done;
        }

        terminal.Out.WriteLine($"{Words.OfType(decision.Decision.Type)}, unit {decision.Unit}, by {decision.Decision.Person} on the records up to log position {decision.Basis.Position}.");
        terminal.Out.WriteLine(decision.Stored is not { } stored ? "The judgement of then is not in this store."
            : stored.Hash == decision.Today.Hash ? $"The same under today's rules ({decision.Today.Rules}): {stored.Hash[..12]}." : $"Kept: {stored.Hash[..12]} under rules {stored.Rules}. Under today's rules ({decision.Today.Rules}): {decision.Today.Hash[..12]}.");
        terminal.Table(["hold", "requirement", "subject", "as judged then", "under today's rules"],
            (decision.Changes?.Findings ?? []).Select(f => new[] { f.Either.Hold, f.Either.Title, f.Either.Subject, f.Before?.Verdict ?? "not there", f.After?.Verdict ?? "not there" }), "No finding differs.");
        return ExitCodes.Done;
    }
}
