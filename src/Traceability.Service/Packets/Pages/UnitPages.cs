using System.Text.RegularExpressions;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;

namespace Traceability.Service.Packets.Pages;

/// <summary>The forms of one unit, in the agency's order. The parts of this class are a file per group of forms.</summary>
internal sealed partial class UnitPages(PacketMatter packet, UnitMatter unit, Paper paper)
{
    public const string Caution =
        "Lifting, stripping and compression testing are dangerous: nobody under a suspended piece, lift only with the stated gear at the stated strength, shield closed at the testing machine. These figures are records, not permission: local codes and the licensed engineer decide.";

    private UnitFile File => unit.File;

    public static string Anchor(UnitMatter unit, PacketForm form) => $"{unit.Id}|{form.Number}";

    public static string Label(UnitMatter unit) => $"Unit {unit.Id}" + (unit.File.Scheduled is { } s ? $", mark {s.Fact.Mark}" : "");

    /// <param name="forms">Numbers of the forms to write; null for all.</param>
    public void Write(IReadOnlySet<string>? forms = null)
    {
        paper.NewSheet(Label(unit));
        paper.Mark(unit.Id, $"Unit {unit.Id}");
        foreach (var form in packet.Template.Forms)
        {
            if (form.Section == PacketSection.None || forms?.Contains(form.Number) == false) continue;
            paper.FormHead(Anchor(unit, form), form.Number, form.Title, $"Unit {unit.Id}", form.Clause);
            if (!UnitForms.HasFacts(unit, form.Section)) Absent(form);
            else Content(form.Section);
            if (form.Section != PacketSection.Findings)
                Findings(unit.Judgement.Findings.Where(f => UnitForms.SectionOf(f) == form.Section && !PacketMatter.IsOfDocuments(f)));
        }
    }

    private void Content(PacketSection section)
    {
        switch (section)
        {
            case PacketSection.Identification: Identification(); break;
            case PacketSection.Steel: Steel(); break;
            case PacketSection.ConcreteMaterials: ConcreteMaterials(); break;
            case PacketSection.PeopleAndInstruments: PeopleAndInstruments(); break;
            case PacketSection.CloseUp: CloseUp(); break;
            case PacketSection.PrePour: PrePour(); break;
            case PacketSection.Batches: Batches(); break;
            case PacketSection.FreshTests: FreshTests(); break;
            case PacketSection.Strength: Strength(); break;
            case PacketSection.Curing: Curing(); break;
            case PacketSection.Releases: Releases(); break;
            case PacketSection.Agency: Agency(); break;
            case PacketSection.AsCast: AsCast(); break;
            case PacketSection.StripAndShip: StripAndShip(); break;
            case PacketSection.Deviations: Deviations(); break;
            case PacketSection.Findings: FindingsSummary(); break;
        }
    }

    private void Absent(PacketForm form) =>
        paper.Paragraph("No record. " + ((form.NotRequiredBy(unit.Product) ?? UnitForms.NotAsked(unit, form)) is { } clause
            ? $"Not required by {clause}."
            : UnitForms.State(unit, form) is { } state ? char.ToUpperInvariant(state[0]) + state[1..] + "." : "Missing."));

    private void Findings(IEnumerable<Finding> findings)
    {
        var listed = findings.ToList();
        var rows = listed.Select((f, i) => new Cell[]
        {
            // The title stands once over the findings of one requirement.
            i > 0 && listed[i - 1].Requirement == f.Requirement ? new Cell("", Face.Regular, OfWhat(f)) : new Cell(f.Title, Face.Bold, OfWhat(f)),
            new(f.Limit.Length == 0 ? "no figure" : f.Limit, Face.Regular, SourceText(f)),
            new(f.Observed.Length == 0 ? "none" : f.Observed, Face.Regular, f.Rounding.Length == 0 ? null : f.Rounding),
            VerdictCell(f.Verdict),
            new(f.Reason, Face.Regular, SetAsideText(f)),
        }).ToList();
        if (rows.Count == 0) return;
        paper.Heading("Findings");
        paper.Table([new("Requirement and what was judged", 0.22), new("Limit as printed, source", 0.25), new("Observed, rounding", 0.14), new("Finding", 0.11), new("Statement", 0.28)], rows);
    }

    /// <summary>What was judged. A mate that is not in the packet may be another contract's unit and is not named.</summary>
    private string OfWhat(Finding finding) => finding.Requirement == "ship.fit" && finding.Subject.Split(" to ") is [_, var mate]
        ? $"unit {unit.Id} to {Serial(mate)}"
        : SubjectText(finding);

    public static string SubjectText(Finding finding) => SubjectText(finding.Subject);

    public static string SubjectText(string subject) => KindColon().Replace(subject, "$1 ");

    // Subject keys are written "kind:id"; a reader needs no colon.
    [GeneratedRegex(@"\b(unit|cage|form|lot|batch|sample|pour|person|instrument|drawing|mix|contract|storage|core|nonconformance|plant|source|delivery|samplinglot):")]
    private static partial Regex KindColon();

    private string SourceText(Finding finding)
    {
        if (finding.Limit.Length == 0 || PacketMatter.IsPractice(unit, finding)) return Words.Source(finding.Source);
        var limits = PacketMatter.LimitsOf(unit, finding);
        var cited = PacketMatter.Cited(finding.Source);
        if (!PacketMatter.IsConfirmed(unit, finding)) return cited + ". LIMIT NOT CONFIRMED against the document";
        return limits.Count > 0 && PacketMatter.Confirmed(unit, limits[0]) is { } read ? $"{cited}. Confirmed {Figures.Day(read.On)}, {read.Page}" : cited;
    }

    private string? SetAsideText(Finding finding) => finding.SetAside.Count == 0
        ? null
        : "Set aside: " + string.Join("; ", finding.SetAside.Select(s => $"record {Line(s.Record)}, {s.Why}"));

    private static Cell VerdictCell(Verdict verdict) => new(Words.Of(verdict), verdict is Verdict.Met or Verdict.NotApplicable ? Face.Regular : Face.Bold);

    /// <summary>Line of the record in records.jsonl: how a reader gets from a page to the exact record.</summary>
    private string Line(Guid record) => "#" + Figures.Count(packet.Line(record));

    private string Line<T>(Entry<T> entry) where T : IFact => Line(entry.Id);

    private string LotLine(LotId lot) =>
        string.Join(" ", File.Of<LotReceived>().Where(r => r.Fact.Lot == lot).Select(Line).Concat(File.Of<LotCertified>().Where(c => c.Fact.Lot == lot).Select(Line)));

    private Matter Matter() => new(File, packet.Request.IssuedAt);

    private static DateOnly DayOf(Moment moment) => Core.Judging.Matter.DayOf(moment.At);
}
