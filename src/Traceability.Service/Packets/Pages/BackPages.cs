using System.Globalization;
using Traceability.Core.Judging;
using Traceability.Service.Log;

namespace Traceability.Service.Packets.Pages;

/// <summary>The proof of the records and the certification: the last pages.</summary>
internal static class BackPages
{
    public static void Proof(PacketMatter packet, Paper paper)
    {
        var checkpoint = packet.Checkpoint;
        paper.NewSheet(FrontPages.UnitsLabel(packet), packet.Template.ProofTitle);
        paper.Mark(FrontPages.Proof, packet.Template.ProofTitle);
        paper.Title(packet.Template.ProofTitle, 14);
        paper.Paragraph("Every record behind this packet was sealed in the plant's log before the packet was made. The log can only be added to; its state is signed. Anyone can check, without the plant and without the network, that the records here are byte for byte the ones sealed.", 8.6);
        paper.Table([new("", 0.24), new("", 0.76)],
        [
            [Cell.Strong("Log"), checkpoint.Origin],
            [Cell.Strong("Size"), string.Create(CultureInfo.InvariantCulture, $"{checkpoint.Size} records")],
            [Cell.Strong("Root (SHA-256), hexadecimal"), new(Convert.ToHexStringLower(checkpoint.Root), Face.Mono)],
            [Cell.Strong("Records of this packet"), $"{Words.Many(packet.Records.Count, "record")}, in records.jsonl, one a line; leaves {Leaves(packet)}"],
            [Cell.Strong("Signed by a kiosk's own key"), Signed(packet)],
            [Cell.Strong("Key that signed it"), new(Fingerprint(packet), Face.Mono)],
        ], head: false);
        paper.Heading("Signed checkpoint, as in checkpoint.txt");
        paper.Verbatim(packet.Request.CheckpointNote.TrimEnd('\n'));
        paper.Heading("To check by hand");
        paper.Paragraph("Take the plant's public key from the plant itself, not from this packet. In the folder of the packet's files:");
        // Nobody signs a draft: it has sums alone.
        paper.Verbatim(packet.Request.Draft ? "sha256sum -c SHA256SUMS" : """
            sha256sum -c SHA256SUMS
            openssl dgst -sha256 -binary manifest.json | base64     # is line 3 of manifest.sig
            head -n 3 manifest.sig > body
            tail -n 1 manifest.sig | cut -d' ' -f3 | base64 -d | tail -c 64 > body.sig
            openssl pkeyutl -verify -pubin -inkey plant-key.pem -rawin -in body -sigfile body.sig
            """.ReplaceLineEndings("\n"));
        paper.Paragraph("The leaf hash of the record on line 5; from it the hashes of its entry in proofs.json lead to the root, each step the SHA-256 of the byte 01, left, right (RFC 6962):");
        paper.Verbatim("{ printf '\\000'; sed -n 5p records.jsonl | head -c -1; } | sha256sum");
        paper.Heading("What this does not prove");
        paper.Paragraph("That a record is true: a wrong reading honestly entered is sealed just as well. That nothing was left out: the findings say what is missing. When something happened, beyond the clocks of the plant. Who holds the key.");
        paper.Heading("Records behind this packet");
        paper.Table([new("Line", 0.07, true), new("Leaf", 0.09, true), new("Happened", 0.21), new("What it states", 0.39), new("Record id", 0.34)],
            [.. packet.Records.Select(r => new Cell[]
            {
                "#" + Figures.Count(packet.Line(r.Id)), packet.Proof(r.Id).Index.ToString(CultureInfo.InvariantCulture), Figures.Exact(packet.Happened(r)),
                Words.OfType(r.Type), new(r.Id.ToString("D"), Face.Mono),
            })]);
    }

    private static string Signed(PacketMatter packet) => packet.Records.Count(r => r.Signature is not null) is > 0 and var signed
        ? $"{Words.Many(signed, "record")}; the signature is with the record, what the kiosk was enrolled with in the record of its enrollment"
        : "none";

    private static string Leaves(PacketMatter packet) =>
        string.Create(CultureInfo.InvariantCulture, $"{packet.Proofs.Min(p => p.Index)} to {packet.Proofs.Max(p => p.Index)} of the log");

    private static string Fingerprint(PacketMatter packet) =>
        $"{packet.Checkpoint.Origin}+{Convert.ToHexStringLower(SignedNote.KeyHash(packet.Checkpoint.Origin, packet.Request.LogPublicKey))}+"
        + Convert.ToBase64String([SignedNote.Ed25519Kind, .. packet.Request.LogPublicKey]);

    public static void Certification(PacketMatter packet, Paper paper)
    {
        paper.NewSheet(FrontPages.UnitsLabel(packet), packet.Template.CertificationTitle);
        paper.Mark(FrontPages.Certification, packet.Template.CertificationTitle);
        paper.Title(packet.Template.CertificationTitle, 14);
        paper.Pairs([("Contract", packet.ContractId), ("Packet", packet.Request.Packet), ("Issued", Figures.Time(packet.Request.IssuedAt)), ("Issued by", packet.Person(packet.Request.IssuedBy))]);
        paper.Paragraph("Units: " + string.Join(", ", packet.Units.Select(u => u.Id)) + ".", 9);
        paper.Space(4);
        if (packet.Request.Draft)
        {
            paper.Notice("DRAFT: no certification", "This is a draft for the plant's own review. It carries no certification and is not to be signed.", 9);
            return;
        }

        var wording = packet.Template.Certification;
        paper.Paragraph(!packet.AllSettled ? wording.WithOpenItems : packet.Exceptions.Any() ? wording.WithExceptions : wording.Complete, 10);
        // The lists may run over pages; what is signed stands with its signatures.
        foreach (var signature in packet.Template.Signatures) paper.SignatureLine(signature);
        paper.Paragraph("The signature above is by hand. The electronic seal in manifest.sig is of the plant's log and replaces no signature.", 7.2);
        if (!packet.AllSettled) Open(packet, paper);
        if (packet.Exceptions.Any())
        {
            paper.Heading("Findings accepted by letter, waived or provisional");
            paper.Table([new("Unit", 0.15), new("Requirement", 0.3), new("Finding", 0.15), new("Statement", 0.4)],
                [.. packet.Exceptions.Select(x => new Cell[] { x.Unit.Id, x.Finding.Title, Words.Of(x.Finding.Verdict), new(x.Finding.Reason, Face.Regular, x.Finding.Clear.Length == 0 ? null : x.Finding.Clear) })]);
        }
    }

    private static void Open(PacketMatter packet, Paper paper)
    {
        paper.Heading("Items open at the moment of issue");
        var rows = packet.Open.Select(o => new Cell[] { o.Unit.Id, o.Finding.Title, Cell.Strong(Words.Of(o.Finding.Verdict)), o.Finding.Reason })
            .Concat(packet.Breaches.Select(b => new Cell[] { b.Unit.Id, "hold: " + Words.Of(b.Hold.Kind), Cell.Strong(Words.Of(b.Hold.State)), PacketMatter.Statement(b.Hold) }))
            .Concat(packet.Units.SelectMany(u => PacketMatter.Conflicts(u).Select(c => new Cell[] { u.Id, Words.OfType(c.Record.Type), Cell.Strong("CONFLICT"), c.Reason }))).ToList();
        paper.Table([new("Unit", 0.15), new("Item", 0.3), new("State", 0.15), new("Statement", 0.4)], rows);
    }
}
