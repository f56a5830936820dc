using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>Some cylinders of one sample.</summary>
internal static class Named
{
    public static IEnumerable<ShapeProblem> Once(IReadOnlyList<string> cylinders) =>
        cylinders.GroupBy(c => c, StringComparer.Ordinal).Where(g => g.Count() > 1)
            .Select(g => new ShapeProblem("data.cylinders", $"must name each cylinder once, it names '{g.Key}' {g.Count()} times", "Remove the repeats."));
}

[Fact("cylinders.moved", 1, Kind = FactKind.Reading, Role = Roles.Laboratory, Summary = "Cylinders were moved to another place.")]
public sealed record CylindersMoved(
    [Identity("sample")] string Sample,
    [Longest(40), Entries(1, 60)] IReadOnlyList<string> Cylinders,
    [Longest(100)] string To) : IFact
{
    public Subject About => Subject.Sample(Sample);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check() => Named.Once(Cylinders);
}

/// <summary>Temperatures of the first hours of cylinders, until they left for their final curing.</summary>
[Fact("initial-cure.recorded", 1, Kind = FactKind.Reading, Role = Roles.Laboratory, Summary = "The initial curing of cylinders was recorded.")]
public sealed record InitialCureRecorded(
    [Identity("sample")] string Sample,
    [Longest(40), Entries(1, 60)] IReadOnlyList<string> Cylinders,
    DateTimeOffset BeganAt,
    DateTimeOffset EndedAt,
    [Description("Lowest temperature around the cylinders.")] Reading LowestF,
    [Description("Highest temperature around the cylinders.")] Reading HighestF,
    [Description("Kept from losing moisture.")] bool KeptMoist,
    [Identity("instrument"), Entries(0, 20)] IReadOnlyList<string> Instruments) : IFact
{
    public Subject About => Subject.Sample(Sample);

    public IEnumerable<Link> Links() => Instruments.Select(i => Link.JudgedBy(About, Subject.Instrument(i)));

    public IEnumerable<ShapeProblem> Check() =>
        EndedAt < BeganAt ? Named.Once(Cylinders).Append(new("data.endedAt", "must not be before beganAt", "Check both times and their offsets.")) : Named.Once(Cylinders);
}

[Fact("cylinders.demoulded", 1, Kind = FactKind.Reading, Role = Roles.Laboratory, Summary = "Cylinders were stripped from their moulds.")]
public sealed record CylindersDemoulded(
    [Identity("sample")] string Sample,
    [Longest(40), Entries(1, 60)] IReadOnlyList<string> Cylinders) : IFact
{
    public Subject About => Subject.Sample(Sample);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check() => Named.Once(Cylinders);
}

[Fact("cylinders.into-curing", 1, Kind = FactKind.Reading, Role = Roles.Laboratory, Summary = "Cylinders were put into their final curing.")]
public sealed record CylindersIntoCuring(
    [Identity("sample")] string Sample,
    [Longest(40), Entries(1, 60)] IReadOnlyList<string> Cylinders,
    CuringPlace Curing,
    [Description("Room, tank or form."), Longest(100)] string Place,
    [Description("Water temperature or air temperature of the place.")] Reading? TemperatureF = null) : IFact
{
    public Subject About => Subject.Sample(Sample);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check() => Named.Once(Cylinders);
}

[Fact("cylinder.lost", 1, Kind = FactKind.Reading, Role = Roles.Laboratory, Summary = "A cylinder cannot be found.")]
public sealed record CylinderLost([Identity("sample")] string Sample, [Longest(40)] string Cylinder, [Longest(500)] string Remarks) : IFact
{
    public Subject About => Subject.Sample(Sample);

    public IEnumerable<Link> Links() => [];
}

[Fact("cylinder.damaged", 1, Kind = FactKind.Reading, Role = Roles.Laboratory, Summary = "A cylinder was damaged before its test.")]
public sealed record CylinderDamaged([Identity("sample")] string Sample, [Longest(40)] string Cylinder, [Longest(500)] string Damage) : IFact
{
    public Subject About => Subject.Sample(Sample);

    public IEnumerable<Link> Links() => [];
}

/// <summary>A core was drilled from a unit.</summary>
[Fact("core.taken", 1, Kind = FactKind.Reading, Role = Roles.Laboratory, Summary = "A core was taken from a unit.")]
public sealed record CoreTaken(
    [Identity("core")] string Core,
    [Identity("unit")] string Unit,
    [Description("Where on the unit.")] string Place,
    [Description("Low test that it investigates; left out when the core is routine."), Identity("sample")] string? ForSample = null,
    [Longest(500)] string? Remarks = null) : IFact
{
    public Subject About => Subject.Core(Core);

    public IEnumerable<Link> Links() => [Link.JudgedBy(Subject.Unit(Unit), About)];
}

[Fact("core.broken", 1, Kind = FactKind.Reading, Role = Roles.Laboratory, Summary = "A core was broken in compression.")]
public sealed record CoreBroken(
    [Identity("core")] string Core,
    [Positive] Reading Diameter1In,
    [Positive] Reading Diameter2In,
    [Description("Length as capped or ground."), Positive] Reading LengthIn,
    [NotNegative] Reading LoadLbf,
    [Between(1, 6)] int FractureType,
    [Identity("instrument")] string Machine,
    [Description("Days between drilling and test in a sealed bag or as the method asks."), NotNegative] Reading? ConditionedDays = null) : IFact
{
    public Subject About => Subject.Core(Core);

    public string? BusinessKey => About.Key;

    public IEnumerable<Link> Links() => [Link.JudgedBy(About, Subject.Instrument(Machine))];
}

/// <summary>The agency took cylinders or a sample of its own.</summary>
[Fact("agency-sample.taken", 1, Kind = FactKind.Reading, Role = Roles.Laboratory, Also = Roles.AgencyInspector, Summary = "The agency took a sample of its own of a batch.")]
public sealed record AgencySampleTaken(
    BatchId Batch,
    [Longest(60)] string AgencySample,
    [Description("What was taken."), Longest(200)] string Taken) : IFact
{
    public Subject About => Batch.Subject;

    public IEnumerable<Link> Links() => [];
}
