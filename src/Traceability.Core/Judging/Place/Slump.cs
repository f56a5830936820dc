using Traceability.Core.Concrete;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// Slump of every sample of conventional concrete around the mix's target, by the tolerance of its size. Needs: placement, sample
/// tested, batch ticket, mix. One retest of the same load fixes a first result that is out.
/// </summary>
public sealed class Slump : IRequirement
{
    private const string Low = "fresh.slump.low", Middle = "fresh.slump.middle", High = "fresh.slump.high";

    private static readonly Citation Source = new("ASTM C143/C143M", SourceMark.Published);

    public string Id => "place.slump";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Slump";
    public IReadOnlyList<string> Limits => [Low, Middle, High];

    public IEnumerable<Finding> Judge(Matter matter) => Evidence.PerSample(this, matter, Source, sample => [Targets.Retested(matter, sample, s => Sample(matter, s))]);

    private Finding Sample(Matter matter, Entry<SampleTested> sample)
    {
        var subject = sample.Fact.About.Key;
        if (Targets.MixOf(matter, sample) is not { } mix) return Targets.NoMix(this, matter, subject, sample, Source);
        if (mix.Fact.TargetSlumpIn is not { } target) return Targets.NotOfThisConcrete(this, subject, "The mix has no target slump.", sample, mix, Source);
        var key = target.Value <= SlumpTolerance.LowIn ? Low : target.Value <= SlumpTolerance.MiddleIn ? Middle : High;
        if (matter.Limit(key) is not { } tolerance) return matter.NoLimit(this, subject, key);
        if (sample.Fact.SlumpIn is not { } slump) return Targets.NotRead(this, subject, "The slump was not read.", sample, Source);
        var reported = Quantities.Rounding.RoundTo(slump.Value, FreshTests.SlumpStepIn, matter.Rounding);
        var met = Math.Abs(reported - target.Value) <= tolerance.Value.Value;
        return matter.Against(this, subject, tolerance, met, $"Slump {Matter.Text(reported)} in, target {target.Text} in.", slump.Text + " in") with
        {
            Limit = $"{target.Text} in target, {tolerance.Printed}",
            Rounding = matter.StepText("slump", FreshTests.SlumpStepIn, "in"),
            Clear = met ? "" : "The technician tests another portion of the load at once; without a good retest the quality engineer decides on the concrete.",
            Used = [sample.Id, mix.Id, matter.Profile!.Id],
        };
    }
}
