using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>A lot's identity: producer and number, because heat numbers repeat across mills.</summary>
public sealed record LotId(string Producer, string Number)
{
    internal Subject Subject => Records.Subject.Lot(Producer, Number);

    internal IEnumerable<ShapeProblem> Check(string field)
    {
        foreach (var p in Shape.Id(field + ".producer", Producer, "lot")) yield return p;
        foreach (var p in Shape.Id(field + ".number", Number, "lot")) yield return p;
        if (Producer?.Contains('/', StringComparison.Ordinal) == true)
            yield return new(field + ".producer", "must not contain '/'", "The slash parts producer and number.");
        if (Producer is not null && Number is not null && !Records.Subject.IsId(Producer + "/" + Number, "lot"))
            yield return new(field, $"must be at most {Records.Subject.LongestKey - 5} characters together", "Shorten the producer's name.");
    }
}

public enum Material { Bar, WeldedWire, Cement, SupplementaryCementitious, FineAggregate, CoarseAggregate, Admixture, Embed }

[Fact("lot.received", 1, Role = Roles.Receiving, Summary = "A delivery of one lot was taken in.")]
public sealed record LotReceived(LotId Lot, Material Material, string Description, string? Size = null, Reading? WeightLb = null, string? TicketNumber = null) : IFact
{
    public Subject About => Lot.Subject;

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check() => Lot.Check("data.lot").Concat(Shape.Text("data.description", Description, 200));
}

/// <summary>The producer's certificate for a lot; for steel the mill's test report.</summary>
/// <param name="MeltedIn">Country of melting, ISO 3166-1 alpha-2, as the certificate states; null when it does not.</param>
/// <param name="ManufacturedIn">Country of all later processes; null when the certificate does not state it.</param>
[Fact("lot.certified", 1, Role = Roles.Receiving, Summary = "A producer's certificate for a lot was read in.")]
public sealed record LotCertified(
    LotId Lot, string CertificateNumber, string Specification, string Edition, string Grade, DateOnly SignedOn,
    string? Size = null, Reading? YieldPsi = null, Reading? TensilePsi = null, Reading? ElongationPct = null,
    string? MeltedIn = null, string? ManufacturedIn = null) : IFact
{
    public Subject About => Lot.Subject;

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check() => Lot.Check("data.lot")
        .Concat(Shape.Text("data.certificateNumber", CertificateNumber, 100)).Concat(Shape.Text("data.specification", Specification, 60))
        .Concat(Shape.Text("data.edition", Edition, 30)).Concat(Shape.Text("data.grade", Grade, 30));
}
