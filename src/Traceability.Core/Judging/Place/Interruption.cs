using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// No interruption of the pour was long enough for a cold joint. Needs: placement, pour interrupted. Asked only where the profile
/// has the limit: how long concrete may wait depends on the mix and the weather, so the figure is the contract's or the plant's.
/// </summary>
public sealed class Interruption : IRequirement
{
    private const string Most = "pour.interruption.minutes";

    private static readonly Citation Source = new("Cold joints", SourceMark.CommonPractice);

    public string Id => "place.interruption";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Interruption of the pour";
    public IReadOnlyList<string> Limits => [Most];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.Limit(Most) is not { } limit) return [Evidence.NotAsked(this, matter, unit, Most, Source)];
        var pours = matter.File.Placements.Select(p => p.Pour).DistinctBy(p => p.Id).ToList();
        if (pours.Count == 0) return [Evidence.NoPlacement(this, matter, Source)];
        return pours.SelectMany(pour =>
        {
            var subject = $"{unit} {pour.Fact.About.Key}";
            var breaks = matter.File.Of<PourInterrupted>().Where(i => i.Fact.About == pour.Fact.About && (i.Fact.Units is null or { Count: 0 } || i.Fact.Units.Any(u => Subject.Unit(u) == matter.File.Unit))).ToList();
            if (breaks.Count == 0) return [matter.Against(this, subject, limit, true, "No interruption is recorded.", "none") with { Rounding = "", Used = [pour.Id, matter.Profile!.Id] }];
            return breaks.Select(i =>
            {
                var minutes = (decimal)(i.Fact.Until - i.Fact.From).Ticks / TimeSpan.TicksPerMinute;
                var met = minutes <= limit.Value.Value;
                var observed = $"{Matter.Text(decimal.Round(minutes, 1))} min";
                return matter.Against(this, subject, limit, met, $"The pour was interrupted for {observed}: {i.Fact.Reason}", observed) with
                {
                    Rounding = "compared as measured",
                    Clear = met ? "" : "The quality engineer looks for a cold joint and raises a nonconformance for the unit.",
                    Used = [pour.Id, i.Id, matter.Profile!.Id],
                };
            });
        });
    }
}
