using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>What a set of cylinders is broken for.</summary>
public enum CylinderPurpose { Strip, Ship, Acceptance, LaterAge, Agency, Spare }

/// <summary>Where a cylinder cures until it is broken.</summary>
public enum CuringPlace { WithUnit, Standard }

/// <param name="Size">Nominal diameter by length, inches: "4x8" or "6x12".</param>
public sealed record CylinderCast(string Cylinder, CylinderPurpose Purpose, string Size, CuringPlace Curing);

/// <summary>A sample of fresh concrete, its tests and the cylinders made from it.</summary>
/// <param name="FlowIn">The two diameters of the slump flow, at right angles, inches.</param>
/// <param name="AirGaugePct">Gauge reading of the pressure meter, percent.</param>
/// <param name="AggregateCorrectionPct">Aggregate correction factor of the mix, percent.</param>
/// <param name="StabilityIndex">Visual stability index, 0 to 3.</param>
/// <param name="MouldedAt">When moulding of the cylinders began.</param>
[Fact("sample.tested", 1, Role = Roles.Laboratory, Summary = "Fresh concrete was sampled and tested, cylinders were made.")]
public sealed record SampleTested(
    string Sample, BatchId Batch, DateTimeOffset SampledAt, Reading TemperatureF, IReadOnlyList<Reading> FlowIn, int StabilityIndex,
    Reading AirGaugePct, Reading AggregateCorrectionPct, IReadOnlyList<CylinderCast> Cylinders, DateTimeOffset MouldedAt,
    IReadOnlyList<string> Instruments, Reading? DensityLbFt3 = null) : IFact
{
    public Subject About => Subject.Sample(Sample);

    public IEnumerable<Link> Links() =>
        Instruments.Select(i => Link.JudgedBy(About, Subject.Instrument(i)))
            .Prepend(Link.JudgedBy(Batch.Subject, About));

    public IEnumerable<ShapeProblem> Check()
    {
        foreach (var p in Shape.Id("data.sample", Sample, "sample").Concat(Batch.Check("data.batch"))) yield return p;
        if (FlowIn.Count != 2) yield return new("data.flowIn", "must hold the two diameters at right angles", "Send both, as read.");
        if (StabilityIndex is < 0 or > 3) yield return new("data.stabilityIndex", "must be 0, 1, 2 or 3", "Send the visual stability index.");
        foreach (var p in Shape.AtMost("data.cylinders", Cylinders, 60)) yield return p;
        foreach (var p in Cylinders.GroupBy(c => c.Cylinder, StringComparer.Ordinal).Where(g => g.Count() > 1))
            yield return new("data.cylinders", $"names cylinder '{p.Key}' {p.Count()} times", "Every cylinder has its own mark.");
        foreach (var p in Instruments.SelectMany((x, i) => Shape.Id($"data.instruments[{i}]", x, "instrument"))) yield return p;
    }
}

/// <summary>One cylinder broken in the machine.</summary>
/// <param name="Diameter1In">First of two mid-height diameters at right angles, inches, to 0.01.</param>
/// <param name="LoadLbf">Maximum load, pounds-force.</param>
/// <param name="FractureType">Type 1 to 6 of the test method's figure.</param>
[Fact("cylinder.broken", 1, Role = Roles.Laboratory, Summary = "A cylinder was broken in compression.")]
public sealed record CylinderBroken(
    string Sample, string Cylinder, Reading Diameter1In, Reading Diameter2In, Reading LengthIn, Reading LoadLbf, int FractureType,
    string Cap, string Machine, string? Remarks = null) : IFact
{
    public Subject About => Subject.Sample(Sample);

    public string? BusinessKey => About.Key + "/" + Cylinder;

    // The machine judges the batch through the sample; stated from the sample it stays one hop from it.
    public IEnumerable<Link> Links() => [Link.JudgedBy(About, Subject.Instrument(Machine))];

    public IEnumerable<ShapeProblem> Check()
    {
        foreach (var p in Shape.Id("data.sample", Sample, "sample").Concat(Shape.Text("data.cylinder", Cylinder, 40)).Concat(Shape.Id("data.machine", Machine, "instrument"))) yield return p;
        foreach (var p in Shape.Positive("data.diameter1In", Diameter1In).Concat(Shape.Positive("data.diameter2In", Diameter2In)).Concat(Shape.Positive("data.lengthIn", LengthIn)).Concat(Shape.NotNegative("data.loadLbf", LoadLbf))) yield return p;
        if (FractureType is < 1 or > 6) yield return new("data.fractureType", "must be 1 to 6", "Send the type of fracture by the test method's figure.");
        foreach (var p in Shape.Text("data.cap", Cap, 60)) yield return p;
    }
}
