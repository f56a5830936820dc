using System.Globalization;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;

namespace Traceability.Service.Packets.Pages;

/// <summary>Cover, index and the heats of all units.</summary>
internal static class FrontPages
{
    public const string HeatIndex = "heats", Proof = "proof", Certification = "certification";

    // More columns than this make cells too narrow to read.
    private const int UnitsAcross = 4;

    public static string UnitsLabel(PacketMatter packet)
    {
        var ids = packet.Units.Select(u => u.Id).ToList();
        return ids.Count == 1 ? "Unit " + ids[0] : ids.Count <= 8 ? "Units " + string.Join(", ", ids) : $"Units {string.Join(", ", ids.Take(8))} and {ids.Count - 8} more, all on page 1";
    }

    public static void Cover(PacketMatter packet, SupplementMade? supplement, Paper paper)
    {
        var request = packet.Request;
        paper.NewSheet(UnitsLabel(packet));
        paper.Mark("cover", "Cover");
        paper.Space(6);
        paper.Title(packet.Template.Title, 19);
        paper.Space(4);
        if (supplement is null) paper.Paragraph(packet.Template.Introduction, 9);
        else paper.Notice(Name(supplement), $"It holds the forms of the units below that say something else than they did. Each takes the place of the pages named; every other page of {supplement.Packet} and of its earlier supplements stands.", 9);
        paper.Space(4);
        var contract = packet.Contract?.Fact;
        paper.Pairs(
        [
            ("Contract", packet.ContractId), ("Title", contract?.Title ?? "not recorded"),
            ("Agency", contract?.Agency ?? "not recorded"), ("Governing document", packet.Template.Specification),
            ("Let on", Figures.Day(contract?.LetOn)), ("Federal funds obligated", contract?.ObligatedOn is { } day ? Figures.Day(day) : "no federal obligation recorded"),
            ("Plant", request.Plant), (supplement is null ? "Packet" : "Supplement", request.Packet),
            ("Issued", Figures.Time(request.IssuedAt)), ("Issued by", packet.Person(request.IssuedBy)),
            ("Limits judged by", packet.Units.Select(u => u.File.Profile).FirstOrDefault(p => p is not null) is { } profile ? $"{profile.Fact.Title} ({profile.Fact.About.Id})" : "no profile recorded"),
            ("Rounding", packet.Units.Select(u => u.File.Profile).FirstOrDefault(p => p is not null) is { } p2 ? Rounding(p2.Fact.Rounding) : "not recorded"),
        ]);
        Standing(packet, paper);
        if (supplement is not null) Replaced(packet, supplement, paper);
        Pending(packet, paper);
        paper.Heading("Units in this packet");
        paper.Table([new("Unit", 0.15), new("Mark", 0.1), new("Product", 0.15), new("Drawing, revision cast to", 0.2), new("Cast", 0.18), new("Shipped", 0.18), new("Page", 0.08, true)],
            [.. packet.Units.Select(u => new Cell[]
            {
                Cell.Strong(u.Id), u.File.Scheduled?.Fact.Mark ?? "not recorded", u.Product ?? "not recorded",
                u.File.Scheduled is { } s ? $"{s.Fact.Drawing}, revision {s.Fact.Revision}" : "not recorded",
                u.File.Placements.FirstOrDefault().Pour is { } pour ? Figures.Time(pour.Fact.StartedAt) : "not recorded",
                u.File.Last<UnitShipped>() is { } shipped ? Figures.Time(shipped.At.At) : "not shipped",
                supplement is null || supplement.Forms.Any(f => f.Unit == u.Id) ? new Cell(Paper.PageSlot, Face.Regular, null, u.Id) : "none",
            })]);
        paper.Heading("How to read it");
        paper.Paragraph("US customary units come first, SI units beside them are converted. Tape readings stand as they were read. Times carry their offset from UTC. \"#12\" is line 12 of records.jsonl, the file beside this document that holds every record exactly as it was sealed. A finding is \"met\" only on evidence; what was not checked reads missing or pending.", 8.2);
        paper.Paragraph($"Beside this document: records.jsonl, findings.json, proofs.json, checkpoint.txt, manifest.json, {(packet.Request.Draft ? "" : "manifest.sig, the record of the issue with its proof (issue-record.jsonl, issue-proof.json, issue-checkpoint.txt) ")}and SHA256SUMS. The last part of this document says how to check them.", 8.2);
        paper.Notice("Caution", UnitPages.Caution, 7.4);
    }

    private static string Rounding(Core.Profiles.RoundingRule rule) => rule switch
    {
        Core.Profiles.RoundingRule.HalfEven => "to the limit's digits, exact halves to the even digit",
        Core.Profiles.RoundingRule.HalfUp => "to the limit's digits, exact halves up",
        Core.Profiles.RoundingRule.Truncate => "to the limit's digits, truncated",
        _ => "none: compared as observed",
    };

    private static void Standing(PacketMatter packet, Paper paper)
    {
        var open = packet.Open.ToList();
        var exceptions = packet.Exceptions.Count();
        var breaches = packet.Breaches.Count();
        var conflicts = packet.Units.Sum(u => PacketMatter.Conflicts(u).Count());
        if (packet.Request.Draft)
            paper.Notice("DRAFT", "For the plant's own review. It may show limits that nobody has confirmed against their documents. It is not a record for the agency and is not to be signed.");
        if (packet.AllSettled && exceptions == 0)
        {
            paper.Notice("Standing at the moment of issue", "No item is open: every requirement judged is met or does not apply, and every step taken that needs a release had it.");
            return;
        }

        var parts = new List<string>();
        foreach (var group in open.GroupBy(o => o.Finding.Verdict).OrderBy(g => g.Key)) parts.Add($"{group.Count()} {Words.Of(group.Key)}");
        if (breaches > 0) parts.Add(Words.Many(breaches, "hold") + " passed without a release, overridden or contradicted by later evidence");
        if (conflicts > 0) parts.Add(Words.Many(conflicts, "record") + " in conflict");
        if (exceptions > 0) parts.Add(Words.Many(exceptions, "finding") + " accepted by letter, waived or provisional");
        paper.Notice("Standing at the moment of issue",
            $"{(packet.AllSettled ? "No item is open" : "OPEN ITEMS")}: {string.Join("; ", parts)}. Each is listed on its unit's form of deviations and open items and with the certification; see the index.");
    }

    private static string Name(SupplementMade supplement) => $"Supplement {Figures.Count(supplement.Number)} to record packet {supplement.Packet}";

    private static string Pages(FormPages pages) =>
        $"{pages.Document} page{(pages.From == pages.Through ? " " + Figures.Count(pages.From) : $"s {Figures.Count(pages.From)} to {Figures.Count(pages.Through)}")}";

    private static void Replaced(PacketMatter packet, SupplementMade supplement, Paper paper)
    {
        paper.Heading("Pages it replaces");
        paper.Table([new("Unit", 0.16), new("Form", 0.34), new("Takes the place of that form on", 0.34), new("Here on page", 0.16, true)],
            [.. supplement.Forms.Select(f => (Form: f, Template: packet.Template.Forms.First(t => t.Number == f.Form), Unit: packet.Units.First(u => u.Id == f.Unit))).Select(x => new Cell[]
            {
                Cell.Strong(x.Form.Unit), $"{x.Form.Form} {x.Template.Title}", x.Form.Replaces is { } pages ? Pages(pages) : "no page: it is new",
                new(Paper.PageSlot, Face.Regular, null, UnitPages.Anchor(x.Unit, x.Template)),
            })]);
        paper.Heading("Items that were pending and are answered");
        if (supplement.Answers.Count == 0) paper.Paragraph("None.");
        else
        {
            paper.Table([new("Unit", 0.16), new("Requirement and what was judged", 0.44), new("Was", 0.12), new("Is", 0.28)],
                [.. supplement.Answers.Select(a =>
                {
                    var now = packet.Units.FirstOrDefault(u => u.Id == a.Unit)?.Judgement.Findings.Where(f => f.Requirement == a.Requirement).ToList() ?? [];
                    var same = now.Where(f => f.Subject == a.Subject).ToList() is { Count: > 0 } exact ? exact : now;
                    return new Cell[]
                    {
                        Cell.Strong(a.Unit), new(now.FirstOrDefault()?.Title ?? a.Requirement, Face.Regular, UnitPages.SubjectText(a.Subject)), "pending",
                        same.Count == 0 ? "no longer asked" : new Cell(string.Join(", ", same.Select(f => Words.Of(f.Verdict)).Distinct(StringComparer.Ordinal)), Face.Bold, same[0].Observed),
                    };
                })]);
        }
    }

    private static void Pending(PacketMatter packet, Paper paper)
    {
        var pending = packet.Pending.ToList();
        if (pending.Count == 0) return;
        paper.Heading("Results still to come, with which the contract allows shipment");
        paper.Table([new("Unit", 0.16), new("Requirement and what was judged", 0.44), new("Due", 0.16), new("Allowed by", 0.24)],
            [.. pending.Select(p => new Cell[]
            {
                Cell.Strong(p.Unit.Id), new(p.Finding.Title, Face.Regular, UnitPages.SubjectText(p.Finding)), p.Finding.Due is { } due ? Figures.Day(Matter.DayOf(due)) : "not set",
                packet.PendingAllowedBy(p.Finding)!,
            })]);
    }

    public static void Index(PacketMatter packet, SupplementMade? supplement, Paper paper)
    {
        paper.NewSheet(UnitsLabel(packet), "Index");
        paper.Mark("index", "Index");
        paper.Title("Index of documents", 14);
        paper.Paragraph("One line for each document of the agency's list, one column for each unit.", 8.2);
        foreach (var across in packet.Units.Chunk(UnitsAcross))
        {
            paper.Table([new("No.", 0.1), new("Document", 0.3), .. across.Select(u => new Column("Unit " + u.Id, 0.6 / across.Length))],
                [.. packet.Template.Forms.Select(form => new Cell[] { Cell.Strong(form.Number), new(form.Title, Face.Regular, form.Clause.Length == 0 ? null : form.Clause) }
                    .Concat(across.Select(u => IndexCell(packet, supplement, u, form))).ToArray())], keep: true);
        }

        paper.Table([new("For all units", 0.7), new("Page", 0.3)],
        [
            [packet.Template.HeatIndexTitle, PacketDocument.HasHeats(packet, supplement) ? new Cell("page " + Paper.PageSlot, Face.Regular, null, HeatIndex) : $"stands in {supplement!.Packet}"],
            [packet.Template.ProofTitle, new("page " + Paper.PageSlot, Face.Regular, null, Proof)],
            [packet.Template.CertificationTitle, new("page " + Paper.PageSlot, Face.Regular, null, Certification)],
        ]);
    }

    private static Cell IndexCell(PacketMatter packet, SupplementMade? supplement, UnitMatter unit, PacketForm form)
    {
        if (supplement is not null && form.Section != PacketSection.None && !supplement.Forms.Any(f => f.Unit == unit.Id && f.Form == form.Number))
            return packet.Request.Supplements!.Standing.TryGetValue((unit.Id, form.Number), out var stands) ? "stands: " + Pages(stands) : "MISSING";
        var text = UnitForms.Index(unit, form);
        var settled = UnitForms.State(unit, form) is null && !text.StartsWith("MISSING", StringComparison.Ordinal);
        return new Cell(text, settled ? Face.Regular : Face.Bold, null, form.Section == PacketSection.None ? null : UnitPages.Anchor(unit, form));
    }

    public static void Heats(PacketMatter packet, Paper paper)
    {
        paper.NewSheet(UnitsLabel(packet), packet.Template.HeatIndexTitle);
        paper.Mark(HeatIndex, packet.Template.HeatIndexTitle);
        paper.Title(packet.Template.HeatIndexTitle, 14);
        paper.Paragraph("From each heat to every unit of this packet it is in, and from each unit to its heats. Each unit's form of reinforcing steel carries the certificates in full.", 8.2);
        var lots = packet.Units.SelectMany(u => UnitPages.Heats(u.File).Select(lot => (Lot: lot, Unit: u))).GroupBy(x => x.Lot)
            .OrderBy(g => g.Key.Producer, StringComparer.Ordinal).ThenBy(g => g.Key.Number, StringComparer.Ordinal).ToList();
        paper.Heading("Heat to units");
        if (lots.Count == 0) paper.Paragraph("No cage of these units is on record.");
        else
        {
            paper.Table([new("Heat (producer / number)", 0.22), new("Certificate, signed", 0.2), new("Specification, grade", 0.2), new("Origin as certified", 0.18), new("Units, bar marks", 0.3)],
                [.. lots.Select(g =>
                {
                    var certificate = g.Select(x => x.Unit.File.Of<LotCertified>().LastOrDefault(c => c.Fact.Lot == g.Key)).FirstOrDefault(c => c is not null)?.Fact;
                    return new Cell[]
                    {
                        Cell.Strong(Words.Of(g.Key)), certificate is null ? Cell.Strong("MISSING") : new Cell(certificate.CertificateNumber, Face.Regular, Figures.Day(certificate.SignedOn)),
                        certificate is null ? "not certified" : new Cell($"{certificate.Specification} {certificate.Grade}", Face.Regular, "edition " + certificate.Edition), UnitPages.Origin(certificate),
                        string.Join("\n", g.Select(x => $"{x.Unit.Id}: {string.Join(", ", x.Unit.File.Cage!.Fact.Bars.Where(b => b.Lots.Contains(g.Key)).Select(b => b.BarMark))}")),
                    };
                })]);
        }

        paper.Heading("Unit to heats");
        paper.Table([new("Unit", 0.14), new("Cage", 0.14), new("Heats (producer / number)", 0.72)],
            [.. packet.Units.Select(u => new Cell[]
            {
                Cell.Strong(u.Id), u.File.Cage?.Fact.Cage ?? "not recorded",
                UnitPages.Heats(u.File).Select(Words.Of).ToList() is { Count: > 0 } heats ? string.Join("; ", heats) : "none on record",
            })]);
    }
}
