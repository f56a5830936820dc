using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

[Fact("delivery.loaded", 1, Kind = FactKind.Reading, Role = Roles.Shipping, Summary = "Units were loaded for a delivery.")]
public sealed record DeliveryLoaded(
    [Identity("delivery")] string Delivery,
    [Longest(60)] string Truck,
    [Identity("unit"), Entries(1, 60)] IReadOnlyList<string> Units) : IFact
{
    public Subject About => Subject.Delivery(Delivery);

    public IEnumerable<Link> Links() => Units.Select(u => Link.JudgedBy(Subject.Unit(u), About));
}

[Fact("delivery.delivered", 1, Kind = FactKind.Reading, Role = Roles.Shipping, Summary = "A delivery was received on site.")]
public sealed record DeliveryDelivered(
    [Identity("delivery")] string Delivery,
    [Identity("unit"), Entries(1, 60)] IReadOnlyList<string> Units,
    [Description("Who received it, as signed."), Longest(100)] string Receiver) : IFact
{
    public Subject About => Subject.Delivery(Delivery);

    public IEnumerable<Link> Links() => Units.Select(u => Link.JudgedBy(Subject.Unit(u), About));
}

[Fact("exception.noted", 1, Kind = FactKind.Reading, Role = Roles.Shipping, Summary = "The receiver noted an exception to a unit.")]
public sealed record ExceptionNoted([Identity("delivery")] string Delivery, [Identity("unit")] string Unit, [Longest(1000)] string Exception) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];
}

[Fact("load-certificate.issued", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "A load certificate was issued.")]
public sealed record LoadCertificateIssued(
    [Identity("delivery")] string Delivery,
    [Identity("unit"), Entries(1, 60)] IReadOnlyList<string> Units,
    [Description("SHA-256 of the document, lower-case hex."), Longest(64)] string Sha256) : IDecision
{
    public Subject About => Subject.Delivery(Delivery);

    public IEnumerable<Link> Links() => Units.Select(u => Link.JudgedBy(Subject.Unit(u), About));
}

/// <summary>What a packet said is still to come.</summary>
public sealed record PendingItem(
    [Identity("unit")] string Unit,
    [Longest(100)] string Requirement,
    [Longest(200)] string Subject);

[Fact("record-packet.issued", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "A record packet was issued.")]
public sealed record RecordPacketIssued(
    [Identity("packet")] string Packet,
    [Identity("unit"), Entries(1, 400)] IReadOnlyList<string> Units,
    [Description("SHA-256 of the manifest, lower-case hex."), Longest(64)] string ManifestSha256,
    [Entries(0, 400)] IReadOnlyList<PendingItem> Pending) : IDecision
{
    public Subject About => Subject.Packet(Packet);

    public IEnumerable<Link> Links() => Units.Select(u => Link.JudgedBy(Subject.Unit(u), About));
}

/// <summary>Pages that take the place of pages of an issued packet, or come after them.</summary>
[Fact("supplement.issued", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "A supplement to a record packet was issued.")]
public sealed record SupplementIssued(
    [Identity("packet")] string Packet,
    [Between(1, 1000)] int Number,
    [Identity("unit"), Entries(1, 400)] IReadOnlyList<string> Units,
    [Longest(64)] string ManifestSha256,
    [Description("Pages of the packet that it replaces."), Longest(300)] string ReplacesPages,
    [Description("Pending items it answers."), Entries(0, 400)] IReadOnlyList<PendingItem> Answers) : IDecision
{
    public Subject About => Subject.Packet(Packet);

    public IEnumerable<Link> Links() => Units.Select(u => Link.JudgedBy(Subject.Unit(u), About));
}
