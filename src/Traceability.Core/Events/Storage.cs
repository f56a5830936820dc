using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>
/// A lot was put into a storage: a silo, a tank, a bin, a bar rack, a stockpile. What names the storage afterwards may hold
/// any lot that can still have been in it: a possible link.
/// </summary>
[Fact("storage.filled", 1, Kind = FactKind.Reading, Role = Roles.Receiving, Summary = "A lot was put into a storage.")]
public sealed record StorageFilled(
    [Identity("storage")] string Storage,
    LotId Lot,
    Material Material,
    [Positive] Reading? WeightLb = null) : IFact
{
    public Subject About => Subject.Storage(Storage);

    public IEnumerable<Link> Links() => [Link.MadeFrom(About, Lot.Subject) with { Possible = true }];
}

/// <summary>The plant draws a material from another storage from now on. Tickets name the storage they drew from.</summary>
[Fact("storage.switched", 1, Kind = FactKind.Reading, Role = Roles.BatchOperator, Summary = "The plant switched to another storage for a material.")]
public sealed record StorageSwitched(
    Material Material,
    [Description("The storage drawn from until now."), Identity("storage")] string From,
    [Description("The storage drawn from after this."), Identity("storage")] string To) : IFact
{
    public Subject About => Subject.Storage(To);

    public IEnumerable<Link> Links() => [Link.About(Subject.Storage(From))];
}

/// <summary>A storage was emptied: nothing that was in it can be in what names it later.</summary>
[Fact("storage.emptied", 1, Kind = FactKind.Reading, Role = Roles.Receiving, Summary = "A storage was emptied.")]
public sealed record StorageEmptied(
    [Identity("storage")] string Storage,
    [Description("How it was seen to be empty."), Longest(200)] string Seen) : IFact
{
    public Subject About => Subject.Storage(Storage);

    public IEnumerable<Link> Links() => [];
}

[Fact("lot.sampled-by-agency", 1, Kind = FactKind.Reading, Role = Roles.Receiving, Summary = "The agency took a sample of a lot.")]
public sealed record LotSampledByAgency(LotId Lot, [Longest(60)] string AgencySample, DateOnly SampledOn) : IFact
{
    public Subject About => Lot.Subject;

    public IEnumerable<Link> Links() => [];
}

/// <summary>A lot must not be used until it is cleared; every release that rests on it expires.</summary>
[Fact("lot.quarantined", 1, Kind = FactKind.Reading, Role = Roles.Receiving, Also = Roles.QualityEngineer, Summary = "A lot was quarantined.")]
public sealed record LotQuarantined(LotId Lot, [Longest(500)] string Reason) : IFact
{
    public Subject About => Lot.Subject;

    public IEnumerable<Link> Links() => [];
}

[Fact("lot.cleared", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "A quarantined lot was cleared.")]
public sealed record LotCleared(LotId Lot, [Longest(500)] string Reason, [Description("What it was cleared on.")] string Document) : IFact
{
    public Subject About => Lot.Subject;

    public IEnumerable<Link> Links() => [];
}

/// <summary>What a test of an aggregate is about: a lot or a storage.</summary>
internal static class LotOrStorage
{
    public static IEnumerable<ShapeProblem> Check(string of) =>
        Subject.TryParse(of, out var subject) && subject.Kind is "lot" or "storage" ? [] : [new("data.of", "must be a lot or a storage, written kind:id", "For example storage:BIN-2 or lot:pit-1/FA-77.")];
}

/// <summary>Total moisture of an aggregate by drying (ASTM C566): 100 (wet - dry) / dry.</summary>
[Fact("aggregate-moisture.tested", 1, Kind = FactKind.Reading, Role = Roles.Laboratory, Summary = "The moisture of an aggregate was tested by drying.")]
public sealed record AggregateMoistureTested(
    [Longest(60)] string Test,
    [Description("The lot or storage that was sampled, written kind:id: lot:producer/number or storage:id."), Longest(120)] string Of,
    DateTimeOffset SampledAt,
    [Positive] Reading WetG,
    [Positive] Reading DryG,
    [Identity("instrument"), Entries(0, 20)] IReadOnlyList<string> Instruments,
    [Description("Absorption, of the oven-dry mass, where it was determined with it."), NotNegative] Reading? AbsorptionPct = null) : IFact
{
    public Subject About => Subject.Parse(Of);

    public IEnumerable<Link> Links() => Instruments.Select(i => Link.JudgedBy(About, Subject.Instrument(i)));

    public IEnumerable<ShapeProblem> Check() => LotOrStorage.Check(Of);
}

public sealed record SievePassing([Longest(20)] string Sieve, [NotNegative] Reading PassingPct);

[Fact("aggregate-grading.tested", 1, Kind = FactKind.Reading, Role = Roles.Laboratory, Summary = "The grading of an aggregate was tested by sieving.")]
public sealed record AggregateGradingTested(
    [Longest(60)] string Test,
    [Description("The lot or storage that was sampled, written kind:id: lot:producer/number or storage:id."), Longest(120)] string Of,
    DateTimeOffset SampledAt,
    [Entries(1, 40)] IReadOnlyList<SievePassing> Sieves) : IFact
{
    public Subject About => Subject.Parse(Of);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check() => LotOrStorage.Check(Of);
}

/// <summary>Mixing water of a storage (tank, well) was tested for what harms concrete.</summary>
[Fact("water.tested", 1, Kind = FactKind.Reading, Role = Roles.Laboratory, Summary = "Mixing water was tested.")]
public sealed record WaterTested(
    [Identity("storage")] string Storage,
    [Longest(60)] string Test,
    DateOnly TestedOn,
    [Description("Chloride ions."), NotNegative] Reading? ChloridePpm = null,
    [Description("Sulfate ions."), NotNegative] Reading? SulfatePpm = null,
    [Description("Total solids."), NotNegative] Reading? SolidsPpm = null) : IFact
{
    public Subject About => Subject.Storage(Storage);

    public IEnumerable<Link> Links() => [];
}

/// <summary>A producer's source of a material is approved for a time.</summary>
[Fact("source.approved", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "A producer's source of a material was approved.")]
public sealed record SourceApproved(
    [Identity("source", Longest = 60)] string Producer,
    Material Material,
    DateOnly ApprovedOn,
    [Description("Last day of the approval, inclusive.")] DateOnly ValidThrough,
    string Document) : IFact
{
    public Subject About => Subject.Source(Producer);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check() =>
        ValidThrough < ApprovedOn ? [new("data.validThrough", "must not be before approvedOn", "Check both dates.")] : [];
}
