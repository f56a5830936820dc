using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>Strength of companion cylinders at one maturity.</summary>
public sealed record MaturityTest(
    [Description("Temperature-time factor above the datum temperature."), Positive] Reading TemperatureTimeFHours,
    [Description("Mean strength of the cylinders at that maturity."), Positive] Reading StrengthPsi);

/// <summary>The strength-maturity relation of a mix, from the plant's own tests, and the later tests that verified it.</summary>
[Fact("maturity.related", 1, Kind = FactKind.Act, Role = Roles.Laboratory, Also = Roles.QualityEngineer, Summary = "The strength-maturity relation of a mix was established or verified.")]
public sealed record MaturityRelated(
    [Identity("mix")] string Mix,
    [Description("Datum temperature.")] Reading DatumF,
    [Description("Tests the relation is fitted to."), Entries(5, 60)] IReadOnlyList<MaturityTest> Tests,
    [Description("Later tests it was verified by."), Entries(0, 60)] IReadOnlyList<MaturityTest> Verifications,
    [Description("Last day the relation may be used, inclusive.")] DateOnly ValidThrough,
    [Description("Report that describes the tests."), Longest(200)] string Document) : IFact
{
    public Subject About => Subject.Mix(Mix);

    public IEnumerable<Link> Links() => [];
}
