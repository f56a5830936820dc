using System.Globalization;
using System.Text.RegularExpressions;
using Traceability.Core.Events;

namespace Traceability.Service.Packets.Pages;

/// <summary>The load certificate: one or two sheets that go with the truck.</summary>
internal static partial class CertificatePages
{
    private static readonly Lock One = new();

    public static byte[] Write(CertificateMatter certificate)
    {
        lock (One) return Lay(certificate);
    }

    private static byte[] Lay(CertificateMatter certificate)
    {
        var form = certificate.Template.LoadCertificate;
        var contract = certificate.Contract.Fact;
        var name = string.Create(CultureInfo.InvariantCulture, $"{certificate.Request.Delivery}, certificate {certificate.Request.Number}");
        var paper = new Paper(PacketFonts.ForDocument(), new PaperMarks(form.Title, "Delivery " + name, $"{contract.Contract}, {contract.Title}",
            $"{certificate.Request.Plant}. {form.Title} {name}, issued {Figures.Time(certificate.Request.IssuedAt)}", false));
        paper.NewSheet("Units " + string.Join(", ", certificate.Units.Select(u => u.Id)), $"{form.Number} {form.Title}");
        paper.Title($"{form.Number} {form.Title}{(form.Clause.Length > 0 ? $" ({form.Clause})" : "")}", 15);
        paper.Pairs(
        [
            ("Contract", $"{contract.Contract}, {contract.Title}"), ("Agency", contract.Agency),
            ("Delivery", certificate.Request.Delivery), ("Truck", certificate.Request.Truck),
            ("Plant", certificate.Request.Plant), ("Issued", Figures.Time(certificate.Request.IssuedAt)),
        ]);
        if (certificate.Request.Number > 1) paper.Paragraph("It takes the place of the earlier certificates of this delivery for these units.");
        paper.Heading("Units on the truck");
        paper.Table([new("Unit, mark", 0.13), new("Product", 0.12), new("Drawing, revision", 0.14), new("Cast", 0.16), new("Strength at shipment (required)", 0.3), new("Agency stamp", 0.15)],
            [.. certificate.Units.Select(u => new Cell[]
            {
                new(u.Id, Face.Bold, u.File.Assigned is { } a ? "mark " + a.Mark : "mark not recorded"), u.Product ?? "not recorded",
                u.File.Scheduled is { } s ? $"{s.Fact.Drawing}, revision {s.Fact.Revision}" : "not recorded",
                u.File.Placements.Select(p => p.Pour.Fact.StartedAt).Order().Select(Figures.Time).FirstOrDefault() ?? "not recorded",
                new(WithSi(CertificateMatter.StrengthAtShipment(u)), Face.Regular, u.File.Drawing is { } d ? $"required {Figures.Psi(d.Fact.ShipStrengthPsi.Value)} ({Figures.Megapascal(d.Fact.ShipStrengthPsi.Value)})" : null),
                u.File.Of<UnitStamped>().Select(x => x.Fact.Stamp).ToList() is { Count: > 0 } stamps ? string.Join(", ", stamps) : "not stamped",
            })]);
        paper.Paragraph(certificate.Exceptions.Count == 0 ? form.Complete : form.WithExceptions, 10);
        if (certificate.Exceptions.Count > 0)
        {
            paper.Heading("Listed here, and not certified");
            paper.Table([new("Unit", 0.13), new("Item", 0.27), new("State", 0.15), new("Statement", 0.45)],
                [.. certificate.Exceptions.Select(e => new Cell[] { e.Unit, e.Item, Cell.Strong(e.State), e.Statement })]);
        }

        paper.Notice("Issued as a decision", $"By {certificate.Request.IssuedBy}, quality engineer of the plant, signed with the PIN on {Figures.Exact(certificate.Request.IssuedAt)}, after judging every record the plant held then. Record {certificate.Request.Record:D} in the plant's log.", 8);
        foreach (var signature in form.Signatures) paper.SignatureLine(signature);
        return paper.Finish($"{form.Title}, {name}", certificate.Request.Plant, certificate.Request.IssuedAt);
    }

    // The figures stay as the finding states them; SI stands behind the mean.
    private static string WithSi(string observed) =>
        Mean().Replace(observed, m => $"{m.Value} ({Figures.Megapascal(decimal.Parse(m.Groups[1].Value, CultureInfo.InvariantCulture))})");

    [GeneratedRegex(@"mean ([\d.]+) psi")]
    private static partial Regex Mean();
}
