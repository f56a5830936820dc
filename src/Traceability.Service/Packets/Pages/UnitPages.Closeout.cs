using System.Text.Json;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;

namespace Traceability.Service.Packets.Pages;

internal sealed partial class UnitPages
{
    private void Releases()
    {
        paper.Heading("Holds of this unit");
        paper.Table([new("Hold", 0.14), new("State", 0.2), new("Released", 0.24), new("Step taken", 0.24), new("Open items", 0.18)],
            [.. unit.Judgement.Holds.Select(h => new Cell[]
            {
                Cell.Strong(Words.Of(h.Kind)),
                new(HoldState(h).Text, HoldState(h).Face, h.Cause),
                h.Release is { } release && Released(release) is { } r ? new Cell(Figures.Time(r.At.At), Face.Regular, $"by {packet.Person(r.Person)}, record {Line(release)}") : h.NeedsRelease ? "not released" : "no release asked",
                h.Step is { } step && File.Entries.FirstOrDefault(e => e.Source.Id == step) is { } taken ? new Cell(Figures.Time(StepTime(taken)), Face.Regular, $"record {Line(step)}") : "not taken",
                h.OpenItems.Count == 0 ? "none" : Cell.Strong(Figures.Count(h.OpenItems.Count)),
            })]);
        var decisions = File.Entries.Where(e => e.Fact is IRelease r && Subject.Unit(r.Unit) == File.Unit).ToList();
        if (decisions.Count == 0)
        {
            Overridden();
            return;
        }

        paper.Heading("What each release rested on");
        paper.Table([new("Release", 0.12), new("When, by whom", 0.25), new("Records known up to position", 0.16, true), new("Judgement (SHA-256)", 0.33), new("Rules", 0.08), new("Note", 0.14)],
            [.. decisions.Select(e =>
            {
                var release = (IRelease)e.Fact;
                return new Cell[]
                {
                    new(Words.Of(release.Hold), Face.Bold, Line(e.Source.Id)), new(Figures.Time(e.At.At), Face.Regular, packet.Person(e.Person)),
                    release.Basis.Position.ToString(System.Globalization.CultureInfo.InvariantCulture), new(release.Basis.JudgementHash, Face.Mono), release.Basis.Rules, new(Note(release), Face.Regular, Scope(release)),
                };
            })]);
        Overridden();
    }

    /// <summary>What a release covers and until when, in words.</summary>
    private static string? Scope(IRelease release)
    {
        var parts = new List<string>();
        if (release.Scope is { } scope)
        {
            if (scope.Revision is { } revision) parts.Add("revision " + revision);
            if (scope.Cage is { } cage) parts.Add("cage " + cage);
            if (scope.Form is { } form) parts.Add("form " + form);
            if (scope.Heats is { Count: > 0 } heats) parts.Add(Words.Many(heats.Count, "heat"));
        }

        if (release.ValidUntil is { } until) parts.Add("valid until " + Figures.Time(until));
        return parts.Count == 0 ? null : "covers " + string.Join(", ", parts);
    }

    /// <summary>Holds that were gone over, and releases that ended or were undone.</summary>
    private void Overridden()
    {
        var rows = new List<Cell[]>();
        foreach (var entry in File.Entries)
        {
            (string What, HoldKind Hold, string Why)? seen = entry.Fact switch
            {
                HoldOverridden f when Own(f.About) => (f.Breach ? "OVERRIDDEN, which is not allowed: a breach" : "overridden", f.Hold, $"{f.Reason}. Second approver {packet.Person(f.SecondApprover)}. Over {Words.Many(f.OpenItems.Count, "open item")}: {string.Join("; ", f.OpenItems)}"),
                ReleaseExpired f when Own(f.About) => ("release expired", f.Hold, f.Cause),
                ReleaseUndone f when Own(f.About) => ("release undone", f.Hold, f.Reason),
                _ => null,
            };
            if (seen is { } s) rows.Add([new(Figures.Time(entry.At.At), Face.Regular, packet.Person(entry.Person)), Cell.Strong(s.What), Words.Of(s.Hold), s.Why, Line(entry.Source.Id)]);
        }

        if (rows.Count == 0) return;
        paper.Heading("Overrides, and releases that ended");
        paper.Table([new("When, by whom", 0.2), new("What", 0.17), new("Hold", 0.12), new("Why", 0.42), new("Record", 0.09)], rows);
    }

    private static Cell HoldState(Hold hold)
    {
        var text = Words.Of(hold.State) + (hold.Contradicted ? "; LATER EVIDENCE CONTRADICTS THE RELEASE" : "");
        return hold.State is Core.Judging.HoldState.Released or Core.Judging.HoldState.Ready && !hold.Contradicted ? text : Cell.Strong(text);
    }

    private Entry? Released(Guid id) => File.Entries.FirstOrDefault(e => e.Source.Id == id);

    private static DateTimeOffset StepTime(Entry step) => step.Fact is PourPlaced pour ? pour.StartedAt : step.At.At;

    private static string Note(IRelease release) => release switch
    {
        TyingReleased r => r.Note ?? "none",
        CloseUpReleased r => r.Note ?? "none",
        PourReleased r => r.Note ?? "none",
        StripReleased r => r.Note ?? "none",
        ShipReleased r => r.Note ?? "none",
        _ => "none",
    };

    private void StripAndShip()
    {
        paper.Notice("Caution", Caution, 7.4);
        foreach (var stripped in File.Of<UnitStripped>())
        {
            var lifting = File.Drawing?.Fact.Lifting;
            paper.Heading($"Stripping, record {Line(stripped)}");
            paper.Table([new("", 0.3), new("As done", 0.35), new("As drawn", 0.35)],
            [
                ["Lifted", Figures.Time(stripped.At.At) + ", " + packet.Person(stripped.Person), "strength at lift " + (File.Drawing is { } d ? $"{Figures.Psi(d.Fact.StripStrengthPsi.Value)} ({Figures.Megapascal(d.Fact.StripStrengthPsi.Value)})" : "not recorded")],
                ["Gear", stripped.Fact.Gear, lifting is null ? "not recorded" : $"weight {Figures.Pound(lifting.WeightLb)} ({Figures.Kilogram(lifting.WeightLb)})"],
                ["Legs that carried", Figures.Count(stripped.Fact.LegsThatCarried), lifting is null ? "not recorded" : Figures.Count(lifting.LegsThatCarry)],
                ["Sling angle from the horizontal", stripped.Fact.SlingAngleDeg.Text + "°", lifting is null ? "not recorded" : lifting.SlingAngleDeg.Text + "°"],
                ["Stored at", stripped.Fact.StoredAt ?? "not recorded", "not drawn"],
            ]);
        }

        foreach (var shipped in File.Of<UnitShipped>())
        {
            paper.Heading($"Shipment, record {Line(shipped)}");
            paper.Pairs(
            [
                ("Left the yard", Figures.Time(shipped.At.At)), ("Recorded by", packet.Person(shipped.Person)),
                ("Delivery", shipped.Fact.Delivery), ("Truck", shipped.Fact.Truck),
                ("Destination", shipped.Fact.Destination), ("Required strength", File.Drawing is { } d ? $"{Figures.Psi(d.Fact.ShipStrengthPsi.Value)} ({Figures.Megapascal(d.Fact.ShipStrengthPsi.Value)})" : "not recorded"),
            ]);
        }

        Deliveries();
        if (!File.Of<UnitStripped>().Any()) paper.Paragraph("The stripping of this unit is not recorded.");
        if (!File.Of<UnitShipped>().Any()) paper.Paragraph("This unit has not been shipped on record.");
    }

    /// <summary>Load, delivery, what the receiver noted, and the documents that were issued.</summary>
    private void Deliveries()
    {
        var rows = new List<Cell[]>();
        foreach (var entry in File.Entries)
        {
            (string What, string How)? seen = entry.Fact switch
            {
                LoadOutInspected f when Own(f.About) => ("inspected on the truck", $"{f.Truck}: {(f.Secured ? "secured" : "NOT SECURED")}, {(f.Sound ? "sound" : "NOT SOUND")}, {(f.Marked ? "marked" : "NOT MARKED")}{(f.Remarks is { } r ? "; " + r : "")}"),
                DeliveryLoaded f when Names(f.Units) => ("loaded", $"delivery {f.Delivery}, truck {f.Truck}"),
                LoadCertificateIssued f when Names(f.Units) => ("load certificate issued", $"delivery {f.Delivery}"),
                DeliveryDelivered f when Names(f.Units) => ("delivered", $"delivery {f.Delivery}, received by {f.Receiver}"),
                ExceptionNoted f when Own(f.About) => ("EXCEPTION noted by the receiver", $"delivery {f.Delivery}: {f.Exception}"),
                RecordPacketIssued f when Names(f.Units) => ("record packet issued", f.Packet + (f.Pending.Count(p => p.Unit == unit.Id) is > 0 and var pending ? $", {Words.Many(pending, "item")} of this unit pending" : "")),
                SupplementIssued f when Names(f.Units) => ("supplement issued", $"{Figures.Count(f.Number)} to {f.Packet}"),
                _ => null,
            };
            if (seen is { } s) rows.Add([new(Figures.Time(entry.At.At), Face.Regular, packet.Person(entry.Person)), Cell.Strong(s.What), s.How, Line(entry.Source.Id)]);
        }

        if (rows.Count == 0) return;
        paper.Heading("Delivery and its documents");
        paper.Table([new("When, by whom", 0.24), new("What", 0.2), new("How", 0.46), new("Record", 0.1)], rows);
    }

    private void Deviations()
    {
        OpenItems();
        Nonconformances();
        var deviations = unit.Judgement.Findings.Where(f => f.Verdict is Verdict.NotMet or Verdict.NotMetAccepted or Verdict.Waived or Verdict.CannotTell or Verdict.Provisional).ToList();
        paper.Heading("Deviations, and findings that stand on provisional figures");
        if (deviations.Count == 0) paper.Paragraph("None: no requirement judged here is not met, waived, accepted by letter or provisional.");
        else
        {
            paper.Table([new("Requirement and what was judged", 0.3), new("Limit as printed", 0.2), new("Observed", 0.14), new("Finding", 0.12), new("Statement", 0.24)],
                [.. deviations.Select(f => new Cell[] { new(f.Title, Face.Bold, OfWhat(f)), f.Limit.Length == 0 ? "no figure" : f.Limit, f.Observed.Length == 0 ? "none" : f.Observed, VerdictCell(f.Verdict), f.Reason })]);
        }

        Corrections();
        SetAsideList("Conflicts: records that contradict each other; none of them counts", [SetAsideKind.Conflict, SetAsideKind.Unreadable],
            "None.");
        SetAsideList("Withdrawn records and repeats of one fact", [SetAsideKind.Withdrawn, SetAsideKind.SameFactAgain], "None.");
    }

    private void OpenItems()
    {
        var open = unit.Judgement.Findings.Where(PacketMatter.IsOpen).ToList();
        paper.Heading("Open items, with what clears them");
        if (open.Count == 0)
        {
            paper.Paragraph("None.");
            return;
        }

        paper.Table([new("Requirement and what was judged", 0.27), new("State", 0.13), new("Due", 0.12), new("Shipment while open", 0.16), new("Statement, and who can clear it", 0.32)],
            [.. open.Select(f => new Cell[]
            {
                new(f.Title, Face.Bold, OfWhat(f)), Cell.Strong(Words.Of(f.Verdict)), f.Due is { } due ? Figures.Day(Core.Judging.Matter.DayOf(due)) : "not set",
                Allowance(f), new(f.Reason, Face.Regular, f.Clear.Length == 0 ? null : f.Clear),
            })]);
    }

    private string Allowance(Finding finding) => packet.PendingAllowedBy(finding) is { } clause ? $"allowed by {clause}" : "no clause allows it";

    private void Corrections()
    {
        paper.Heading("Corrections: what was replaced, and why");
        var changes = File.SetAside.Where(s => s.Kind == SetAsideKind.Replaced).ToDictionary(s => s.Record.Id);
        var rows = new List<Cell[]>();
        foreach (var entry in File.Entries.Where(e => e.Version > 1))
        {
            // Every version but the last was set aside as replaced; the last is the entry's source.
            var versions = unit.Records.Where(r => r.Fact is RecordCorrected c && c.Record == entry.Original.Id && (changes.ContainsKey(r.Id) || r.Id == entry.Source.Id))
                .OrderBy(r => ((RecordCorrected)r.Fact!).ReplacedVersion).ToList();
            var before = Content(entry.Original);
            var replaced = entry.Original;
            foreach (var version in versions)
            {
                var correction = (RecordCorrected)version.Fact!;
                var after = correction.Data;
                rows.Add([
                    new(Words.OfType(entry.Original.Type), Face.Regular, $"record {Line(replaced.Id)} of {Figures.Time(packet.Happened(replaced))}, {packet.Person(replaced.Person)}"),
                    new(Differences(before, after), Face.Regular, correction.OccurredAt is { } at ? "time: now " + Figures.Time(File.Time.Local(at)) : null),
                    correction.Reason,
                    new(Figures.Time(packet.Happened(version)), Face.Regular, $"{packet.Person(version.Person)}, record {Line(version.Id)}"),
                ]);
                before = after;
                replaced = version;
            }
        }

        if (rows.Count == 0) paper.Paragraph("None.");
        else paper.Table([new("Replaced record", 0.28), new("Was, and is now", 0.32), new("Reason", 0.22), new("Corrected", 0.18)], rows);
    }

    private static JsonElement Content(Record record) => record.Fact is RecordCorrected c ? c.Data : record.Sent.Data;

    private static string Differences(JsonElement before, JsonElement after)
    {
        const int most = 14;
        var was = Flat(before).ToDictionary(x => x.Path, x => x.Value, StringComparer.Ordinal);
        var now = Flat(after).ToDictionary(x => x.Path, x => x.Value, StringComparer.Ordinal);
        var lines = was.Keys.Union(now.Keys).Where(k => was.GetValueOrDefault(k) != now.GetValueOrDefault(k))
            .Select(k => $"{k}: was {was.GetValueOrDefault(k) ?? "absent"}, is {now.GetValueOrDefault(k) ?? "absent"}").ToList();
        if (lines.Count == 0) return "content unchanged";
        return string.Join("\n", lines.Take(most)) + (lines.Count > most ? $"\nand {lines.Count - most} more fields, see the records" : "");
    }

    private static IEnumerable<(string Path, string Value)> Flat(JsonElement element, string path = "")
    {
        switch (element.ValueKind)
        {
            case JsonValueKind.Object:
                foreach (var member in element.EnumerateObject())
                    foreach (var inner in Flat(member.Value, path.Length == 0 ? member.Name : path + "." + member.Name)) yield return inner;
                break;
            case JsonValueKind.Array:
                var i = 0;
                foreach (var item in element.EnumerateArray())
                    foreach (var inner in Flat(item, $"{path}[{++i}]")) yield return inner;
                break;
            default:
                yield return (path, element.ToString());
                break;
        }
    }

    private void SetAsideList(string title, SetAsideKind[] kinds, string none)
    {
        paper.Heading(title);
        var rows = File.SetAside.Where(s => kinds.Contains(s.Kind)).Select(s => new Cell[]
        {
            new(Words.OfType(s.Record.Type), Face.Regular, $"{Figures.Time(packet.Happened(s.Record))}, {packet.Person(s.Record.Person)}"), Words.Of(s.Kind), s.Reason, Line(s.Record.Id),
        }).ToList();
        if (rows.Count == 0) paper.Paragraph(none);
        else paper.Table([new("Record", 0.34), new("Kind", 0.14), new("Why", 0.42), new("Record", 0.1)], rows);
    }

    private void FindingsSummary()
    {
        paper.Paragraph($"Judged by rules {unit.Judgement.RulesVersion} and limits {(unit.Judgement.Profile.Length == 0 ? "of no profile" : unit.Judgement.Profile)}. The judgement's SHA-256 is in manifest.json.");
        paper.Table([new("Requirement", 0.36), new("Before", 0.12), new("Source", 0.26), new("Judged", 0.08, true), new("Result", 0.18)],
            [.. unit.Judgement.Findings.GroupBy(f => f.Requirement).Select(g =>
            {
                var first = g.First();
                var settled = g.All(f => f.Verdict is Verdict.Met or Verdict.NotApplicable);
                return new Cell[]
                {
                    first.Title, Words.Of(first.Hold), string.Join("; ", g.Select(f => Words.Source(f.Source)).Distinct(StringComparer.Ordinal)), Figures.Count(g.Count()),
                    new(string.Join(", ", g.GroupBy(f => f.Verdict).OrderBy(v => v.Key).Select(v => $"{v.Count()} {Words.Of(v.Key)}")), settled ? Face.Regular : Face.Bold),
                };
            })]);
    }
}
