using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>What a set of cylinders is broken for.</summary>
public enum CylinderPurpose { Strip, Ship, Acceptance, LaterAge, Agency, Spare }

/// <summary>Where a cylinder cures until it is broken.</summary>
public enum CuringPlace { WithUnit, Standard }

public sealed record CylinderCast(
    [Description("The cylinder's mark, once in its sample."), Longest(40)] string Cylinder,
    CylinderPurpose Purpose,
    [Description("Nominal diameter by length, inches: \"4x8\" or \"6x12\"."), Longest(20)] string Size,
    CuringPlace Curing);

/// <summary>A sample of fresh concrete, its tests and the cylinders made from it.</summary>
[Fact("sample.tested", 1, Kind = FactKind.Reading, Role = Roles.Laboratory, Summary = "Fresh concrete was sampled and tested, cylinders were made.")]
public sealed record SampleTested(
    [Identity("sample")] string Sample,
    BatchId Batch,
    DateTimeOffset SampledAt,
    Reading TemperatureF,
    [Entries(0, 60)] IReadOnlyList<CylinderCast> Cylinders,
    [Description("When moulding of the cylinders began.")] DateTimeOffset MouldedAt,
    [Identity("instrument"), Entries(0, 40)] IReadOnlyList<string> Instruments,
    [Description("The two diameters of the slump flow of self-consolidating concrete, at right angles."), Entries(2, 2)] IReadOnlyList<Reading>? FlowIn = null,
    [Description("Visual stability index of self-consolidating concrete."), Between(0, 3)] int? StabilityIndex = null,
    [Description("Gauge reading of the pressure meter.")] Reading? AirGaugePct = null,
    [Description("Aggregate correction factor of the mix.")] Reading? AggregateCorrectionPct = null,
    [Positive] Reading? DensityLbFt3 = null,
    [Description("Slump of conventional concrete."), NotNegative] Reading? SlumpIn = null,
    [Description("Time to a flow of 20 in."), NotNegative] Reading? T50S = null,
    [Description("Flow through the J-ring, mean of two diameters."), NotNegative] Reading? JRingFlowIn = null,
    [Description("Coarse aggregate of the top section of the segregation column."), NotNegative] Reading? ColumnTopLb = null,
    [Description("Coarse aggregate of its bottom section."), NotNegative] Reading? ColumnBottomLb = null,
    [Description("First portion of the composite sample.")] DateTimeOffset? FirstPortionAt = null,
    [Description("Last portion of the composite sample.")] DateTimeOffset? LastPortionAt = null,
    [Description("Start of the first of the tests of slump or flow, temperature and air.")] DateTimeOffset? TestsStartedAt = null,
    [Description("The sampling lot it stands for, where lots are defined."), Identity("samplinglot")] string? SamplingLot = null,
    [Description("The sample whose result this one repeats, of the same load."), Identity("sample")] string? RetestOf = null) : IFact
{
    public Subject About => Subject.Sample(Sample);

    public IEnumerable<Link> Links() =>
        Instruments.Select(i => Link.JudgedBy(About, Subject.Instrument(i)))
            .Prepend(Link.JudgedBy(Batch.Subject, About))
            .Concat(SamplingLot is null ? [] : [Link.JudgedBy(Subject.SamplingLot(SamplingLot), About)]);

    public IEnumerable<ShapeProblem> Check() =>
        Cylinders.GroupBy(c => c.Cylinder, StringComparer.Ordinal).Where(g => g.Count() > 1)
            .Select(g => new ShapeProblem("data.cylinders", $"must name each cylinder once, it names '{g.Key}' {g.Count()} times", "Every cylinder has its own mark."));
}

/// <summary>One cylinder broken in the machine.</summary>
[Fact("cylinder.broken", 1, Kind = FactKind.Reading, Role = Roles.Laboratory, Summary = "A cylinder was broken in compression.")]
public sealed record CylinderBroken(
    [Identity("sample")] string Sample,
    [Longest(40)] string Cylinder,
    [Description("First of two mid-height diameters at right angles, to 0.01."), Positive] Reading Diameter1In,
    [Description("The second one, to 0.01."), Positive] Reading Diameter2In,
    [Positive] Reading LengthIn,
    [Description("Maximum load."), NotNegative] Reading LoadLbf,
    [Description("Type of fracture by the figure of the test method."), Between(1, 6)] int FractureType,
    [Description("Cap or pad at the ends."), Longest(60)] string Cap,
    [Description("The compression machine."), Identity("instrument")] string Machine,
    [Longest(1000)] string? Remarks = null) : IFact
{
    public Subject About => Subject.Sample(Sample);

    public string? BusinessKey => About.Key + "/" + Cylinder;

    // The machine judges the batch through the sample; stated from the sample it stays one hop from it.
    public IEnumerable<Link> Links() => [Link.JudgedBy(About, Subject.Instrument(Machine))];
}
