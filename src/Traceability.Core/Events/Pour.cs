using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>One placement row: so much of one batch went into one unit in one lift.</summary>
public sealed record Placement(string Unit, BatchId Batch, Reading VolumeYd3, int Lift);

[Fact("pour.placed", 1, Role = Roles.PourCrew, Summary = "Concrete was placed: which batch into which unit.")]
public sealed record PourPlaced(string Pour, DateTimeOffset StartedAt, DateTimeOffset FinishedAt, IReadOnlyList<Placement> Rows) : IFact
{
    public Subject About => Subject.Pour(Pour);

    public IEnumerable<Link> Links() => Rows.SelectMany(r => new[]
    {
        Link.MadeFrom(Subject.Unit(r.Unit), r.Batch.Subject),
        Link.MadeFrom(Subject.Unit(r.Unit), About),
    });

    public IEnumerable<ShapeProblem> Check() =>
        Shape.Id("data.pour", Pour, "pour").Concat(Shape.Some("data.rows", Rows, 400)).Concat(Shape.Order("data.finishedAt", StartedAt, FinishedAt))
            .Concat(Rows.SelectMany((r, i) => Shape.Id($"data.rows[{i}].unit", r.Unit, "unit").Concat(r.Batch.Check($"data.rows[{i}].batch"))
                .Concat(Shape.Positive($"data.rows[{i}].volumeYd3", r.VolumeYd3))));
}

public sealed record TemperatureReading(DateTimeOffset At, Reading TemperatureF);

/// <summary>Concrete temperatures of one probe while a pour cures, degrees Fahrenheit.</summary>
[Fact("cure.temperatures", 1, Role = Roles.Laboratory, Summary = "Curing temperatures of one probe were read out.")]
public sealed record CureTemperatures(string Pour, string Probe, IReadOnlyList<TemperatureReading> Readings, DateTimeOffset? InitialSetAt = null) : IFact
{
    public Subject About => Subject.Pour(Pour);

    public IEnumerable<Link> Links() => [Link.JudgedBy(About, Subject.Instrument(Probe))];

    public IEnumerable<ShapeProblem> Check()
    {
        foreach (var p in Shape.Id("data.pour", Pour, "pour").Concat(Shape.Id("data.probe", Probe, "instrument")).Concat(Shape.Some("data.readings", Readings, 2000))) yield return p;
        for (var i = 1; i < Readings.Count; i++)
        {
            if (Readings[i].At <= Readings[i - 1].At)
                yield return new($"data.readings[{i}].at", "must be later than the reading before it", "Send the readings in order of time.");
        }
    }
}
