using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.People;
using Traceability.Core.Records;

namespace Traceability.Service.Packets.Pages;

internal sealed partial class UnitPages
{
    /// <summary>What the agency did about the unit: notice it had, presence, witness, holds it released, waivers, stamps, acceptances, rejections.</summary>
    private void Agency()
    {
        var rows = new List<Cell[]>();
        foreach (var entry in File.Entries)
        {
            (string Act, string Of, string How)? act = entry.Fact switch
            {
                NoticeGiven f when Names(f.Units) => ("notice given to the agency", Words.Of(f.Hold), $"{f.Document}; for the step of {Figures.Time(f.StepAt)}"),
                AgencyPresent f when Names(f.Units) => ("present", Words.Of(f.Hold), f.Remarks ?? "no remark"),
                AgencyWitnessed f when Own(f.About) => ("witnessed", Words.Of(f.Hold), f.What),
                AgencyHoldReleased f when Own(f.About) => ("hold released", Words.Of(f.Hold),
                    (f.Telephone is { } call ? $"by telephone, {packet.Person(call.Speaker)} at {Figures.Time(call.SaidAt)}: \"{call.Words}\"; {Confirmed(f)}" : f.Letter ?? "by the agency's inspector") + (f.ValidUntil is { } until ? $"; valid until {Figures.Time(until)}" : "")),
                AgencyWaived f when Names(f.Units) => ("waived", f.Requirement is { } what ? $"{Words.Of(f.Hold)}: {Title(what)}" : $"{Words.Of(f.Hold)}: hold or presence",
                    $"{f.Letter}; from {Figures.Time(f.From)} until {Figures.Time(f.Until)}" + (f.Conditions is { } c ? $"; on condition: {c}" : "")),
                UnitStamped f when Own(f.About) => ("stamped", "unit", "stamp " + f.Stamp),
                AgencyAccepted f when Own(f.About) => ("accepted by letter what is not met", string.Join("; ", f.Accepts.Select(Accepted)),
                    $"{f.Letter} of {Figures.Day(f.AcceptedOn)}" + (f.Conditions is { } c ? $"; on condition: {c}" : "")),
                AgencyRejected f when Own(f.About) => ("REJECTED", "unit", f.Reason + (f.Letter is { } letter ? $"; {letter}" : "")),
                _ => null,
            };
            if (act is { } a)
                rows.Add([new(Figures.Time(entry.At.At), Face.Regular, $"recorded by {packet.Person(entry.Person)}"), Cell.Strong(a.Act), a.Of, a.How + Standing(entry), Line(entry.Source.Id)]);
        }

        if (rows.Count == 0) paper.Paragraph("No act of the agency about this unit is on record.");
        else paper.Table([new("When", 0.2), new("Act", 0.17), new("Of", 0.23), new("How, conditions", 0.32), new("Record", 0.08)], rows);
    }

    private string Confirmed(AgencyHoldReleased spoken) =>
        File.Of<AgencyHoldReleased>().Any(r => r.Fact.Telephone is null && Own(r.Fact.About) && r.Fact.Hold == spoken.Hold && Agencies.NotHeard(File, r.Whole) is null) ? "confirmed" : "CONFIRMATION DUE";

    // The letter it was entered from, or why it counts for nothing.
    private string Standing(Entry entry) =>
        Agencies.NotHeard(File, entry) is { } voice ? $"; DOES NOT COUNT: {voice}" : entry.Fact is IAgencyAct { LetterSha256: { } hash } ? $"; entered from the letter with SHA-256 {hash}" : "";

    private bool Own(Subject subject) => subject == File.Unit;

    private bool Names(IReadOnlyList<string> units) => units.Contains(unit.Id, StringComparer.Ordinal);

    private static string Accepted(AcceptedFinding accepted) => Title(accepted.Requirement) + (accepted.Subject is { } of ? $" ({SubjectText(of)})" : "");

    private static string Title(string requirement) => Core.Judging.Rules.All.FirstOrDefault(r => r.Id == requirement)?.Title ?? requirement;

    /// <summary>A serial of this contract as it is; another contract's unit is not named.</summary>
    private string Serial(string other) => packet.Units.Any(u => u.Id == other) ? other : "a unit that is not in this packet";

    private void Nonconformances()
    {
        paper.Heading("Nonconformances, their dispositions and approvals");
        var raised = File.Of<NonconformanceRaised>().Where(n => Names(n.Fact.Units)).ToList();
        if (raised.Count == 0)
        {
            paper.Paragraph("None was raised.");
            return;
        }

        foreach (var one in raised)
        {
            var id = one.Fact.Nonconformance;
            var repairs = File.Of<UnitRepaired>().Where(r => Own(r.Fact.About) && r.Fact.Nonconformance == id).ToList();
            var rows = new List<Cell[]>
            {
                Row("raised", one.Whole, $"{Words.Of(one.Fact.Class)}, {(one.Fact.Structural ? "structural" : "not structural")}: {one.Fact.Description}" + (one.Fact.Requirement is { } r ? $" ({Title(r)})" : "")),
            };
            rows.AddRange(File.Of<NonconformanceDisposed>().Where(d => d.Fact.Nonconformance == id).Select(d => Row("disposition", d.Whole, $"{Words.Of(d.Fact.Disposition)}: {d.Fact.Procedure}")));
            rows.AddRange(File.Of<NonconformanceApproved>().Where(a => a.Fact.Nonconformance == id).Select(a => Row("approved", a.Whole,
                $"by the {Words.Of(a.Fact.By)}, letter {a.Fact.Letter} of {Figures.Time(a.Fact.ApprovedAt)}" + (a.Fact.Conditions is { } c ? $"; on condition: {c}" : "")
                + (a.Fact.Accepts.Count > 0 ? $"; accepts {string.Join("; ", a.Fact.Accepts.Select(Accepted))}" : ""))));
            rows.AddRange(repairs.Select(r => Row("repaired", r.Whole, $"{r.Fact.Procedure}, begun {Figures.Time(r.Fact.BeganAt)}, finished {Figures.Time(r.Fact.FinishedAt)}. {ApprovedBefore(id, r)}")));
            rows.AddRange(File.Of<NonconformanceClosed>().Where(c => c.Fact.Nonconformance == id).Select(c => Row("closed", c.Whole, c.Fact.Outcome)));
            paper.Table([new("Nonconformance " + id, 0.18), new("When, by whom", 0.24), new("What", 0.5), new("Record", 0.08)], rows);
            if (!File.Of<NonconformanceClosed>().Any(c => c.Fact.Nonconformance == id)) paper.Paragraph($"Nonconformance {id} is not closed on record.", 7.6, Face.Bold);
        }

        Cell[] Row(string what, Entry entry, string how) => [Cell.Strong(what), new(Figures.Time(entry.At.At), Face.Regular, packet.Person(entry.Person)), how, Line(entry.Source.Id)];
    }

    /// <summary>Whether an approval of the disposition is dated before the repair began, in words.</summary>
    private string ApprovedBefore(string nonconformance, Entry<UnitRepaired> repair)
    {
        var first = File.Of<NonconformanceApproved>().Where(a => a.Fact.Nonconformance == nonconformance).OrderBy(a => a.Fact.ApprovedAt).FirstOrDefault();
        return first is null ? "NO APPROVAL is on record."
            : first.Fact.ApprovedAt <= repair.Fact.BeganAt ? $"Approved {Figures.Time(first.Fact.ApprovedAt)}, before it began."
            : $"APPROVED AFTER IT BEGAN, {Figures.Time(first.Fact.ApprovedAt)}.";
    }

    /// <summary>The unit as it came out of the form and what became of it in the yard.</summary>
    private void AsCast()
    {
        foreach (var inspection in File.Of<AsCastInspected>().Where(i => Own(i.Fact.About)))
        {
            paper.Heading($"Inspected as cast {Figures.Time(inspection.At.At)} by {packet.Person(inspection.Person)}, record {Line(inspection)}");
            if (inspection.Fact.Dimensions.Count > 0)
            {
                paper.Table([new("Dimension", 0.2), new("Specified", 0.13, true), new("As cast", 0.13, true), new("Difference", 0.13, true), new("Tolerance as judged", 0.27), new("Finding", 0.14)],
                    [.. inspection.Fact.Dimensions.Select(d =>
                    {
                        var drawn = File.Drawing?.Fact.Dimensions.FirstOrDefault(x => x.Name == d.Name);
                        var difference = drawn is null ? (decimal?)null : d.MeasuredIn.Value - drawn.SpecifiedIn.Value;
                        var finding = unit.Judgement.Findings.FirstOrDefault(f => f.Requirement == "ship.as-cast" && f.Used.Contains(inspection.Id) && f.Subject.EndsWith($" {d.Name} as cast", StringComparison.Ordinal));
                        return new Cell[]
                        {
                            d.Name, Drawn(drawn?.SpecifiedIn), Length(d.MeasuredIn), difference is null ? "not drawn" : Signed(difference.Value) + " in",
                            finding is null ? "not judged" : finding.Limit.Length == 0 ? "no tolerance stated" : finding.Limit, finding is null ? "not judged" : VerdictCell(finding.Verdict),
                        };
                    })]);
            }

            paper.Pairs([("Surface as drawn", Figures.YesNo(inspection.Fact.SurfaceAsDrawn)), ("Instruments", Join(inspection.Fact.Instruments)), ("Remarks", inspection.Fact.Remarks ?? "none"), ("Record", Line(inspection))]);
        }

        foreach (var map in File.Of<CracksMapped>().Where(m => Own(m.Fact.About)))
        {
            paper.Heading($"Cracks and defects mapped {Figures.Time(map.At.At)} by {packet.Person(map.Person)}, record {Line(map)}");
            if (map.Fact.Cracks.Count == 0 && map.Fact.Defects.Count == 0) paper.Paragraph("Looked at, and none was seen." + (map.Fact.Remarks is { } remark ? " " + remark : ""));
            else
            {
                paper.Table([new("Place", 0.34), new("What", 0.26), new("Width or depth", 0.2, true), new("Length or area", 0.2, true)],
                [
                    .. map.Fact.Cracks.Select(c => new Cell[] { c.Place, "crack" + (c.AtBearing ? ", at a bearing or joint" : ""), Length(c.WidthIn), Length(c.LengthIn) }),
                    .. map.Fact.Defects.Select(d => new Cell[] { d.Place, Words.Of(d.Kind), Length(d.DepthIn), d.AreaIn2 is { } area ? area.Text + " in²" : "not taken" }),
                ]);
                if (map.Fact.Remarks is { } remarks) paper.Paragraph(remarks);
            }
        }

        var rows = new List<Cell[]>();
        foreach (var entry in File.Entries)
        {
            (string What, string How)? seen = entry.Fact switch
            {
                UnitFitted f when Own(f.About) || f.Mate == unit.Id => ("fitted to its mate", $"to {Serial(f.Unit == unit.Id ? f.Mate : f.Unit)}: widest gap {Figures.Inch(f.GapIn)} ({Figures.Millimetre(f.GapIn)}), {(f.Fits ? "fits" : "DOES NOT FIT")}"),
                UnitRepaired f when Own(f.About) => ("repaired", $"{f.Procedure}, begun {Figures.Time(f.BeganAt)}, finished {Figures.Time(f.FinishedAt)}"
                    + (f.Nonconformance is { } n ? $"; nonconformance {n}: {ApprovedBefore(n, new(f, entry))}" : "; a repair approved beforehand")
                    + (f.Lots is { Count: > 0 } lots ? $"; material {string.Join("; ", lots.Select(Words.Of))}" : "")),
                UnitDamaged f when Own(f.About) => ("DAMAGED", f.Damage),
                UnitMarked f when Own(f.About) => ("marked", $"{f.Marking}{(f.OnVisibleFace ? ", on a face that stays visible" : "")}"),
                UnitStored f when Own(f.About) => ("stored", $"{f.Place}, dunnage {(f.BlockedAsDrawn ? "as drawn" : "NOT AS DRAWN")}"),
                UnitMoved f when Own(f.About) => ("moved", f.Place + (f.Gear is { } gear ? $", with {gear}" : "")),
                _ => null,
            };
            if (seen is { } s) rows.Add([new(Figures.Time(entry.At.At), Face.Regular, packet.Person(entry.Person)), Cell.Strong(s.What), s.How, Line(entry.Source.Id)]);
        }

        if (rows.Count == 0) return;
        paper.Heading("In the yard");
        paper.Table([new("When, by whom", 0.22), new("What", 0.16), new("How", 0.54), new("Record", 0.08)], rows);
    }
}
