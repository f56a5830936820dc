using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>What a sampling lot is made up by.</summary>
public enum SamplingBasis { MixAndDay, Volume, UnitGroup, Form }

/// <summary>A sampling lot: the units that one sample stands for. Every unit must be represented by a valid test.</summary>
[Fact("sampling-lot.defined", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "A sampling lot was defined: the units one sample stands for.")]
public sealed record SamplingLotDefined(
    [Identity("samplinglot")] string SamplingLot,
    SamplingBasis Basis,
    [Identity("mix")] string Mix,
    [Description("Units of the lot as planned or as cast."), Identity("unit"), Entries(1, 400)] IReadOnlyList<string> Units,
    [Description("Whether what is sampled is drawn at random.")] bool DrawnAtRandom,
    [Description("Day of casting, where the lot is of one day.")] DateOnly? Day = null,
    [Description("Volume the lot is limited to."), Positive] Reading? VolumeYd3 = null,
    [Description("Letter that permits leaving out the sample; left out when it is taken."), Longest(200)] string? SkippedByPermission = null) : IFact
{
    public Subject About => Subject.SamplingLot(SamplingLot);

    public IEnumerable<Link> Links() => Units.Select(u => Link.JudgedBy(Subject.Unit(u), About));
}

[Fact("random-number.drawn", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "A random number was drawn for a sampling lot.")]
public sealed record RandomNumberDrawn(
    [Identity("samplinglot")] string SamplingLot,
    [Description("Table, generator or agency that gave it.")] string Method,
    [Description("The number as drawn."), Longest(40)] string Number,
    [Description("The load, unit or volume it points to."), Longest(200)] string PointsTo) : IFact
{
    public Subject About => Subject.SamplingLot(SamplingLot);

    public IEnumerable<Link> Links() => [];
}
