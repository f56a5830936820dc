using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>One placement row: so much of one batch went into one unit in one lift.</summary>
public sealed record Placement(
    [Identity("unit")] string Unit,
    BatchId Batch,
    [Positive] Reading VolumeYd3,
    [Description("Number of the lift, from 1."), Between(1, 1000)] int Lift,
    [Description("Part of the unit where it is not the whole: curb, closure."), Longest(60)] string? Part = null);

[Fact("pour.placed", 1, Kind = FactKind.Reading, Role = Roles.PourCrew, Summary = "Concrete was placed: which batch into which unit.")]
public sealed record PourPlaced(
    [Identity("pour")] string Pour,
    DateTimeOffset StartedAt,
    DateTimeOffset FinishedAt,
    [Entries(1, 400)] IReadOnlyList<Placement> Rows) : IFact
{
    public Subject About => Subject.Pour(Pour);

    public IEnumerable<Link> Links() => Rows.SelectMany(r => new[]
    {
        Link.MadeFrom(Subject.Unit(r.Unit), r.Batch.Subject),
        Link.MadeFrom(Subject.Unit(r.Unit), About),
    });

    public IEnumerable<ShapeProblem> Check() =>
        FinishedAt < StartedAt ? [new("data.finishedAt", "must not be before startedAt", "Check both times and their offsets.")] : [];
}

public sealed record TemperatureReading(DateTimeOffset At, Reading TemperatureF);

/// <summary>Concrete temperatures of one probe while a pour cures.</summary>
[Fact("cure.temperatures", 1, Kind = FactKind.Reading, Role = Roles.Laboratory, Summary = "Curing temperatures of one probe were read out.")]
public sealed record CureTemperatures(
    [Identity("pour")] string Pour,
    [Identity("instrument")] string Probe,
    [Description("In order of time."), Entries(1, 2000)] IReadOnlyList<TemperatureReading> Readings,
    [Description("Initial set of the concrete, where it was determined.")] DateTimeOffset? InitialSetAt = null) : IFact
{
    public Subject About => Subject.Pour(Pour);

    public IEnumerable<Link> Links() => [Link.JudgedBy(About, Subject.Instrument(Probe))];

    public IEnumerable<ShapeProblem> Check()
    {
        for (var i = 1; i < Readings.Count; i++)
        {
            if (Readings[i].At > Readings[i - 1].At) continue;
            yield return new($"data.readings[{i}].at", "must be later than the reading before it", "Send the readings in order of time.");
            yield break;
        }
    }
}
