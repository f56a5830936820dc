using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>A batch ticket's identity: plant, ticket number and date.</summary>
public sealed record BatchId(string Plant, string Ticket, DateOnly Date)
{
    internal Subject Subject => Records.Subject.Batch(Plant, Ticket, Date);

    internal IEnumerable<ShapeProblem> Check(string field) =>
        Shape.Id(field + ".plant", Plant, "batch").Concat(Shape.Id(field + ".ticket", Ticket, "batch"))
            .Concat(Plant is not null && Ticket is not null && !Records.Subject.IsId($"{Plant}/{Ticket}/2000-01-01", "batch")
                ? [new ShapeProblem(field, $"must be at most {Records.Subject.LongestKey - 7} characters together", "Shorten the plant's name.")] : []);
}

/// <summary>One weighed ingredient, pounds.</summary>
/// <param name="TargetLb">Required weight of the batch as corrected for moisture.</param>
/// <param name="ScaleCapacityLb">Capacity of the scale it was weighed on.</param>
/// <param name="MoisturePct">Total moisture of an aggregate, percent of its oven-dry mass.</param>
/// <param name="AbsorptionPct">Absorption of an aggregate, percent of its oven-dry mass.</param>
public sealed record Weighed(Material Material, string Name, Reading TargetLb, Reading BatchedLb,
    Reading? ScaleCapacityLb = null, Reading? MoisturePct = null, Reading? AbsorptionPct = null, LotId? Lot = null);

/// <summary>A batch ticket as the batch computer printed it.</summary>
/// <param name="WaterTargetLb">Target batch water, pounds.</param>
/// <param name="WaterBatchedLb">Metered water, pounds.</param>
/// <param name="WaterAddedLaterLb">Water added after batching, pounds; null when none.</param>
/// <param name="ChargedAt">First contact of water with cement, or of cement with damp aggregate.</param>
/// <param name="MoistureBasis">Whether the moisture figures come from the probe at batching or from the laboratory.</param>
[Fact("batch.ticketed", 1, Role = Roles.BatchOperator, Summary = "A batch of concrete was made, with its ticket.")]
public sealed record BatchTicketed(
    BatchId Batch, string Mix, Reading VolumeYd3, IReadOnlyList<Weighed> Ingredients, Reading WaterTargetLb, Reading WaterBatchedLb,
    DateTimeOffset ChargedAt, MoistureBasis MoistureBasis, Reading? WaterAddedLaterLb = null, IReadOnlyList<string>? Instruments = null) : IFact
{
    public Subject About => Batch.Subject;

    public string? BusinessKey => About.Key;

    public IEnumerable<Link> Links() =>
        Ingredients.Where(i => i.Lot is not null).Select(i => Link.MadeFrom(About, i.Lot!.Subject))
            .Append(Link.GovernedBy(About, Subject.Mix(Mix)))
            .Concat((Instruments ?? []).Select(i => Link.JudgedBy(About, Subject.Instrument(i))));

    public IEnumerable<ShapeProblem> Check() => Batch.Check("data.batch").Concat(Shape.Id("data.mix", Mix, "mix"))
        .Concat(Shape.Positive("data.volumeYd3", VolumeYd3)).Concat(Shape.Some("data.ingredients", Ingredients, 40))
        .Concat(Shape.NotNegative("data.waterBatchedLb", WaterBatchedLb))
        .Concat(Ingredients.SelectMany((x, i) => x.Lot?.Check($"data.ingredients[{i}].lot") ?? []))
        .Concat((Instruments ?? []).SelectMany((x, i) => Shape.Id($"data.instruments[{i}]", x, "instrument")));
}

public enum MoistureBasis { Probe, Laboratory }
