using Traceability.Core.Concrete;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Acceptance;

/// <summary>
/// The first hours of acceptance cylinders: temperature by design strength, duration, no loss of moisture. Needs: the record
/// of the initial cure, which the profile may ask for. A flag on the specimens: a low result stands all the same.
/// </summary>
public sealed class InitialCure : IRequirement
{
    private const string Asked = "asked.initial-cure", Hours = "cylinder.initial.hours", Low = "cylinder.initial.low", High = "cylinder.initial.high",
        StrongFrom = "cylinder.initial.strong-from", StrongLow = "cylinder.initial.strong-low", StrongHigh = "cylinder.initial.strong-high";

    private static readonly Citation Source = new("ASTM C31/C31M", SourceMark.Published, Clause: "10.1.2");

    public string Id => "acceptance.initial-cure";
    public HoldKind Hold => HoldKind.Acceptance;
    public string Title => "Initial cure of acceptance cylinders";
    public IReadOnlyList<string> Limits => [Asked, Hours, Low, High, StrongFrom, StrongLow, StrongHigh];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var samples = AcceptanceTests.Samples(matter).ToList();
        if (samples.Count == 0) yield return Matter.Finding(this, matter.File.Unit.Key, Verdict.NotApplicable, "No acceptance cylinders that stand for this unit are recorded.", Source);
        foreach (var sample in samples)
        {
            var cylinders = sample.Fact.Cylinders.Where(c => c.Purpose == CylinderPurpose.Acceptance).Select(c => c.Cylinder).ToHashSet(StringComparer.Ordinal);
            var records = matter.File.Of<InitialCureRecorded>().Where(r => r.Fact.Sample == sample.Fact.Sample && r.Fact.Cylinders.Any(cylinders.Contains)).ToList();
            var subject = $"{sample.Fact.About.Key} initial cure";
            if (records.Count == 0)
            {
                yield return Evidence.AbsentWhereAsked<InitialCureRecorded>(this, matter, subject, Asked, "The initial cure of the acceptance cylinders is not recorded.", "The laboratory reads out the box of the cylinders.", Source) with { Used = [sample.Id] };
                continue;
            }

            foreach (var record in records) yield return Judge(matter, subject, record);
        }
    }

    private Finding Judge(Matter matter, string subject, Entry<InitialCureRecorded> record)
    {
        var asked = new[] { Hours, Low, High, StrongFrom, StrongLow, StrongHigh };
        if (asked.FirstOrDefault(k => matter.Limit(k) is null) is { } absent) return matter.NoLimit(this, subject, absent);
        if (matter.File.Drawing is not { } drawing) return Evidence.NoDrawing(this, matter, Source);
        var strong = drawing.Fact.DesignStrengthPsi.Value >= matter.Limit(StrongFrom)!.Value.Value;
        var (low, high, longest) = (matter.Limit(strong ? StrongLow : Low)!, matter.Limit(strong ? StrongHigh : High)!, matter.Limit(Hours)!);
        var hours = TestAge.Hours(record.Fact.BeganAt, record.Fact.EndedAt);
        var faults = new List<string>();
        if (record.Fact.LowestF.Value < low.Value.Value) faults.Add($"it fell to {record.Fact.LowestF.Text} F");
        if (record.Fact.HighestF.Value > high.Value.Value) faults.Add($"it rose to {record.Fact.HighestF.Text} F");
        if (hours > longest.Value.Value) faults.Add($"it lasted {Matter.Text(decimal.Round(hours, 1))} h");
        if (!record.Fact.KeptMoist) faults.Add("moisture was lost");
        var doubts = record.Fact.Instruments.Select(i => matter.InCalibration(i, record.Fact.BeganAt)).Where(c => !c.Valid).Select(c => c.Words).ToList();
        var verdict = faults.Count > 0 ? Verdict.NotMet : doubts.Count > 0 || record.Fact.Instruments.Count == 0 ? Verdict.Missing : Verdict.Met;
        return Matter.Finding(this, subject, verdict, verdict switch
        {
            Verdict.NotMet => $"Of the initial cure: {string.Join(", ", faults)}.",
            Verdict.Missing => $"The readings cannot be used: {(doubts.Count > 0 ? string.Join("; ", doubts) : "the record names no instrument")}.",
            _ => $"{record.Fact.LowestF.Text} to {record.Fact.HighestF.Text} F for {Matter.Text(decimal.Round(hours, 1))} h, kept moist.",
        }, low.Source) with
        {
            Limit = $"{low.Printed}; {longest.Printed}",
            LimitConfirmed = low.ConfirmedBy is not null && high.ConfirmedBy is not null && longest.ConfirmedBy is not null,
            Observed = $"{record.Fact.LowestF.Text} to {record.Fact.HighestF.Text} F, {Matter.Text(decimal.Round(hours, 1))} h",
            Rounding = "compared as measured",
            Clear = verdict == Verdict.Met ? "" : "The quality engineer decides what the specimens may stand for; a low result stands all the same.",
            Used = [record.Id, drawing.Id, matter.Profile!.Id],
        };
    }
}
