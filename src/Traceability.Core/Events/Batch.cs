using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>A batch ticket's identity: plant, ticket number and date.</summary>
public sealed record BatchId(
    [Identity("batch", Longest = 40, WithoutSlash = true)] string Plant,
    [Identity("batch", Longest = 50)] string Ticket,
    [Description("Day of batching at the plant.")] DateOnly Date)
{
    internal Subject Subject => Records.Subject.Batch(Plant, Ticket, Date);
}

/// <summary>One weighed ingredient.</summary>
public sealed record Weighed(
    Material Material,
    [Description("As the batch computer names it.")] string Name,
    [Description("Required weight of the batch as corrected for moisture.")] Reading TargetLb,
    [Description("Weight on the scale.")] Reading BatchedLb,
    [Description("Capacity of the scale it was weighed on."), Positive] Reading? ScaleCapacityLb = null,
    [Description("Total moisture of an aggregate, of its oven-dry mass.")] Reading? MoisturePct = null,
    [Description("Absorption of an aggregate, of its oven-dry mass.")] Reading? AbsorptionPct = null,
    [Description("The lot, where the ticket names it.")] LotId? Lot = null,
    [Description("The silo, bin or tank it was drawn from, where the ticket names that: every lot that could have been in it is possible."), Identity("storage")] string? Storage = null);

/// <summary>Something put into the mixer by hand.</summary>
public sealed record HandAddition(
    [Description("What was added.")] string Name,
    [Positive] Reading AmountLb,
    [Longest(300)] string Reason,
    [Description("The lot, where it is known.")] LotId? Lot = null);

public enum MoistureBasis { Probe, Laboratory }

/// <summary>A batch ticket as the batch computer printed it.</summary>
[Fact("batch.ticketed", 1, Kind = FactKind.Reading, Role = Roles.BatchOperator, Summary = "A batch of concrete was made, with its ticket.")]
public sealed record BatchTicketed(
    BatchId Batch,
    [Identity("mix")] string Mix,
    [Positive] Reading VolumeYd3,
    [Entries(1, 40)] IReadOnlyList<Weighed> Ingredients,
    [Description("Target batch water."), NotNegative] Reading WaterTargetLb,
    [Description("Metered water."), NotNegative] Reading WaterBatchedLb,
    [Description("First contact of water with cement, or of cement with damp aggregate.")] DateTimeOffset ChargedAt,
    [Description("Whether the moisture figures come from the probe at batching or from the laboratory.")] MoistureBasis MoistureBasis,
    [Description("Water added after batching; left out when none."), NotNegative] Reading? WaterAddedLaterLb = null,
    [Description("Scales, meters and probes used."), Identity("instrument"), Entries(0, 40)] IReadOnlyList<string>? Instruments = null,
    [Description("Names of the ingredients in the order they were charged, where the batch computer tells it."), Entries(0, 60)] IReadOnlyList<string>? ChargingOrder = null,
    [Entries(0, 40)] IReadOnlyList<HandAddition>? HandAdditions = null,
    [Description("The tank the batch water came from."), Identity("storage")] string? WaterStorage = null,
    [Description("Time to discharge that the producer set, where the purchaser set none."), Positive] Reading? DischargeLimitMin = null) : IFact
{
    public Subject About => Batch.Subject;

    public string? BusinessKey => About.Key;

    public IEnumerable<Link> Links() =>
        Ingredients.Where(i => i.Lot is not null).Select(i => Link.MadeFrom(About, i.Lot!.Subject))
            .Concat(Ingredients.Where(i => i.Storage is not null).Select(i => Link.MadeFrom(About, Subject.Storage(i.Storage!))))
            .Concat((HandAdditions ?? []).Where(h => h.Lot is not null).Select(h => Link.MadeFrom(About, h.Lot!.Subject)))
            .Concat(WaterStorage is null ? [] : [Link.MadeFrom(About, Subject.Storage(WaterStorage))])
            .Append(Link.GovernedBy(About, Subject.Mix(Mix)))
            .Append(Link.GovernedBy(About, Subject.Plant(Batch.Plant)))
            .Concat((Instruments ?? []).Select(i => Link.JudgedBy(About, Subject.Instrument(i))));
}
