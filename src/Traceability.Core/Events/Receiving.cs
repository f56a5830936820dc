using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>A lot's identity: producer and number, because heat numbers repeat across mills.</summary>
public sealed record LotId(
    [Identity("lot", Longest = 60, WithoutSlash = true)] string Producer,
    [Description("Heat number or lot number."), Identity("lot", Longest = 50)] string Number)
{
    internal Subject Subject => Records.Subject.Lot(Producer, Number);
}

public enum Material { Bar, WeldedWire, Cement, SupplementaryCementitious, FineAggregate, CoarseAggregate, Admixture, Embed }

[Fact("lot.received", 1, Kind = FactKind.Reading, Role = Roles.Receiving, Summary = "A delivery of one lot was taken in.")]
public sealed record LotReceived(
    LotId Lot,
    Material Material,
    string Description,
    [Longest(40)] string? Size = null,
    [Positive] Reading? WeightLb = null,
    [Longest(60)] string? TicketNumber = null) : IFact
{
    public Subject About => Lot.Subject;

    public IEnumerable<Link> Links() => [Link.JudgedBy(About, Subject.Source(Lot.Producer))];
}

/// <summary>The producer's certificate for a lot; for steel the mill's test report.</summary>
[Fact("lot.certified", 1, Kind = FactKind.Act, Role = Roles.Receiving, Summary = "A producer's certificate for a lot was read in.")]
public sealed record LotCertified(
    LotId Lot,
    [Longest(100)] string CertificateNumber,
    [Description("Standard the lot is certified to."), Longest(60)] string Specification,
    [Description("Edition of the standard."), Longest(30)] string Edition,
    [Longest(30)] string Grade,
    DateOnly SignedOn,
    [Longest(40)] string? Size = null,
    [Positive] Reading? YieldPsi = null,
    [Positive] Reading? TensilePsi = null,
    [NotNegative] Reading? ElongationPct = null,
    [Description("Country of melting, ISO 3166-1 alpha-2, as the certificate states; left out when it does not."), Longest(2)] string? MeltedIn = null,
    [Description("Country of all later processes, ISO 3166-1 alpha-2; left out when the certificate does not state it."), Longest(2)] string? ManufacturedIn = null,
    [Description("Chloride ions of an admixture or other ingredient, of its mass."), NotNegative] Reading? ChloridePct = null,
    [Description("Hash of the certificate as filed, SHA-256 in lower-case hex."), Longest(64)] string? DocumentSha256 = null) : IFact
{
    public Subject About => Lot.Subject;

    public IEnumerable<Link> Links() => [];
}
