using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>Water was added to a batch after batching, at the plant or at the form.</summary>
[Fact("water.added", 1, Kind = FactKind.Reading, Role = Roles.BatchOperator, Also = Roles.PourCrew, Summary = "Water was added to a batch after batching.")]
public sealed record WaterAdded(
    BatchId Batch,
    [Positive] Reading WaterLb,
    [Description("Who asked for it and why."), Longest(300)] string Reason) : IFact
{
    public Subject About => Batch.Subject;

    public IEnumerable<Link> Links() => [];
}

[Fact("load.accepted", 1, Kind = FactKind.Reading, Role = Roles.Laboratory, Also = Roles.PlantInspector, Summary = "A load of concrete was accepted for placing.")]
public sealed record LoadAccepted(BatchId Batch, [Longest(500)] string? Remarks = null) : IFact
{
    public Subject About => Batch.Subject;

    public IEnumerable<Link> Links() => [];
}

/// <summary>A load was rejected. Some of it may be in a unit already: the placement rows say so.</summary>
[Fact("load.rejected", 1, Kind = FactKind.Reading, Role = Roles.Laboratory, Also = Roles.PlantInspector, Summary = "A load of concrete was rejected.")]
public sealed record LoadRejected(
    BatchId Batch,
    [Longest(500)] string Reason,
    [Description("What became of the rest."), Longest(200)] string? Disposal = null) : IFact
{
    public Subject About => Batch.Subject;

    public IEnumerable<Link> Links() => [];
}
