using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Ship;

/// <summary>
/// Cracks and defects by class: a crack up to the width for leaving or sealing, a defect no deeper than cosmetic, no exposed
/// steel; anything more is a nonconformance with a disposition, raised at that map or later and naming this requirement. Needs: the last map of the unit, which the profile may ask
/// for. The licensed engineer decides on what is more.
/// </summary>
public sealed class Cracks : IRequirement
{
    private const string Asked = "asked.cracks", Width = "crack.width", Depth = "defect.cosmetic-depth";

    private static readonly Citation Source = new("Inspection of the finished unit for cracks and defects", SourceMark.CommonPractice);

    public string Id => "ship.cracks";
    public HoldKind Hold => HoldKind.Ship;
    public string Title => "Cracks and defects by class";
    public IReadOnlyList<string> Limits => [Asked, Width, Depth];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.File.Of<CracksMapped>().LastOrDefault() is not { } map)
        {
            yield return Evidence.AbsentWhereAsked<CracksMapped>(this, matter, unit, Asked, "Cracks and defects were not mapped.", "The plant inspector maps the unit; an empty map says that none was seen.", Source);
            yield break;
        }

        if (map.Fact.Cracks.Count + map.Fact.Defects.Count == 0)
            yield return Matter.Finding(this, unit, Verdict.Met, "Looked at; neither crack nor defect was seen.", Source) with { Used = [map.Id] };
        var i = 0;
        foreach (var crack in map.Fact.Cracks) yield return Crack(matter, $"{unit} crack {++i}", crack, map);
        i = 0;
        foreach (var defect in map.Fact.Defects) yield return Defect(matter, $"{unit} defect {++i}", defect, map);
    }

    private Finding Crack(Matter matter, string subject, CrackSeen crack, Entry<CracksMapped> map)
    {
        var words = $"Crack at {crack.Place}, {crack.WidthIn.Text} in wide{(crack.AtBearing ? ", at a bearing or joint" : "")}";
        if (crack.AtBearing) return More(matter, subject, words, Source, "none at a bearing or joint without the engineer", map);
        if (matter.Limit(Width) is not { } limit) return More(matter, subject, words + "; the profile states no width that may be left", Source, "", map);
        return matter.Rounded(crack.WidthIn.Value, limit) <= limit.Value.Value
            ? matter.Against(this, subject, limit, true, words + ".", crack.WidthIn.Text + " in") with { Used = [map.Id, matter.Profile!.Id] }
            : More(matter, subject, words, limit.Source, limit.Printed, map) with { LimitConfirmed = limit.ConfirmedBy is not null, Rounding = matter.RoundingText(limit) };
    }

    private Finding Defect(Matter matter, string subject, DefectSeen defect, Entry<CracksMapped> map)
    {
        var words = $"{defect.Kind switch { DefectKind.ExposedSteel => "Exposed steel", var kind => kind.ToString() }} at {defect.Place}{(defect.DepthIn is { } d ? $", {d.Text} in deep" : "")}";
        if (defect.Kind == DefectKind.ExposedSteel) return More(matter, subject, words, Source, "none without a disposition", map);
        if (defect.Kind == DefectKind.Blemish) return Matter.Finding(this, subject, Verdict.Met, words + ": cosmetic.", Source) with { Used = [map.Id] };
        if (matter.Limit(Depth) is not { } limit) return More(matter, subject, words + "; the profile states no depth that is cosmetic", Source, "", map);
        return defect.DepthIn is { } depth && depth.Value <= limit.Value.Value
            ? matter.Against(this, subject, limit, true, words + ": cosmetic.", depth.Text + " in") with { Rounding = "compared as read", Used = [map.Id, matter.Profile!.Id] }
            : More(matter, subject, defect.DepthIn is null ? words + ", depth not measured" : words, limit.Source, limit.Printed, map) with { LimitConfirmed = limit.ConfirmedBy is not null };
    }

    // More than may be left: a nonconformance of the unit has to answer it.
    private Finding More(Matter matter, string subject, string words, Citation source, string limit, Entry<CracksMapped> map)
    {
        var settled = Nonconformances.Of(matter).Where(n => n.Settled && n.Requirement == Id).ToLookup(n => n.RaisedSince(map.At));
        var verdict = settled[true].Any() ? Verdict.Met : settled[null].Any() ? Verdict.CannotTell : Verdict.NotMet;
        var answered = settled[verdict == Verdict.Met ? true : null].ToList();
        var numbers = string.Join(", ", answered.Select(n => n.Id));
        return Matter.Finding(this, subject, verdict, verdict switch
        {
            Verdict.Met => $"{words}; answered by nonconformance {numbers}.",
            Verdict.CannotTell => $"{words}: more than may be left, and the clocks do not say whether nonconformance {numbers} was raised since the map.",
            _ => $"{words}: more than may be left.",
        }, source) with
        {
            Limit = limit,
            Observed = words,
            Clear = verdict == Verdict.Met ? "" : $"The quality engineer raises a nonconformance that names {Id}; structural ones need the engineer of record's letter.",
            Used = [map.Id, .. answered.SelectMany(n => n.Records)],
        };
    }
}
