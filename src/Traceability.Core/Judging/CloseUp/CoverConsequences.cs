using Traceability.Core.Concrete;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;

namespace Traceability.Core.Judging.CloseUp;

/// <summary>What one cover out of tolerance does to the flexural strength of a foot of the section.</summary>
/// <param name="Subject">Subject of the finding about that cover.</param>
public sealed record CoverCost(string Subject, CoverConsequence Consequence);

/// <summary>
/// What covers that are not met cost: strength before, after, ratio, for whoever writes to the engineer of record. No requirement and no part
/// of a judgement, so that no calculation that nobody sealed gets into a packet. One layer of Grade 60 is taken at its specified yield.
/// </summary>
public static class CoverConsequences
{
    private const decimal Grade60Ksi = 60;

    /// <summary>By bar mark and reading; only where the drawing gives size, spacing and effective depth, without which nothing can be said.</summary>
    public static IReadOnlyList<CoverCost> Of(UnitFile file, Judgement judgement)
    {
        if (file.Last<CloseUpInspected>() is not { } inspection || file.Drawing is not { } drawing) return [];
        var open = judgement.Findings.Where(f => f.Requirement == Cover.RequirementId && f.Verdict is Verdict.NotMet or Verdict.NotMetAccepted).Select(f => f.Subject).ToHashSet(StringComparer.Ordinal);
        return
        [
            .. drawing.Fact.Bars.SelectMany(mark => inspection.Fact.Covers.Where(c => c.BarMark == mark.BarMark && open.Contains(Cover.SubjectOf(file, mark, c)))
                .Select(c => Section(drawing.Fact, mark) is { } section && Flexure.Tried(section, mark.CoverIn.Value) is not null && Flexure.Tried(section, c.CoverIn.Value) is not null
                    ? new CoverCost(Cover.SubjectOf(file, mark, c), Flexure.Of(section, mark.CoverIn.Value, c.CoverIn.Value)) : null)).OfType<CoverCost>().Distinct(),
        ];
    }

    private static FlexuralSection? Section(DrawingApproved drawing, BarLine mark) =>
        Bars.Nominal(mark.Size) is not { } bar || mark.SpacingIn is not { Value: > 0 } spacing || mark.DepthIn is not { Value: > 0 } depth ? null
            : new(12, depth.Value + mark.CoverIn.Value + bar.DiameterIn / 2, Bars.AreaIn2PerFt(bar.AreaIn2, spacing.Value), bar.DiameterIn, Grade60Ksi, drawing.DesignStrengthPsi.Value / 1000, Flexure.PhiTension);
}
