using Traceability.Core.Concrete;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// Slump flow of every sample around the mix's target: mean of two diameters to 1/2 in; further apart than the profile
/// allows, the test is invalid and has to be repeated. Needs: placement, sample tested, batch ticket, mix.
/// </summary>
public sealed class Flow : IRequirement
{
    private const string Apart = "fresh.flow.diameters", Break = "fresh.flow.break", Low = "fresh.flow.low", High = "fresh.flow.high";

    private static readonly Citation Source = new("ASTM C1611/C1611M", SourceMark.Published, Clause: "slump flow");

    public string Id => "place.flow";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Slump flow";
    public IReadOnlyList<string> Limits => [Apart, Break, Low, High];

    public IEnumerable<Finding> Judge(Matter matter) => Evidence.PerSample(this, matter, Source, sample => [Targets.Retested(matter, sample, s => Sample(matter, s))]);

    private Finding Sample(Matter matter, Entry<SampleTested> sample)
    {
        var subject = sample.Fact.About.Key;
        if (Targets.MixOf(matter, sample) is not { } mix) return Targets.NoMix(this, matter, subject, sample, Source);
        if (mix.Fact.TargetFlowIn is not { } target) return Targets.NotOfThisConcrete(this, subject, "The mix is not self-consolidating.", sample, mix, Source);
        if (matter.Limit(Apart) is not { } apart) return matter.NoLimit(this, subject, Apart);
        if (matter.Limit(Break) is not { } parting) return matter.NoLimit(this, subject, Break);
        var key = target.Value <= parting.Value.Value ? Low : High;
        if (matter.Limit(key) is not { } tolerance) return matter.NoLimit(this, subject, key);

        if (sample.Fact.FlowIn is not [var first, var second]) return Targets.NotRead(this, subject, "The slump flow was not read.", sample, Source);
        Guid[] used = [sample.Id, mix.Id, matter.Profile!.Id];
        if (Math.Abs(first.Value - second.Value) > apart.Value.Value)
        {
            return Matter.Finding(this, subject, Verdict.Missing, $"The two diameters {first.Text} and {second.Text} in are too far apart: the test is invalid.", apart.Source) with
            {
                Limit = apart.Printed,
                LimitConfirmed = apart.ConfirmedBy is not null,
                Observed = $"{first.Text} x {second.Text} in",
                Clear = "The technician repeats the test; without a valid one the quality engineer decides.",
                Used = used[1..],
                SetAside = [new(sample.Id, "diameters too far apart, slump flow not valid")],
            };
        }

        var flow = FreshTests.FlowIn(first.Value, second.Value, matter.Rounding);
        var met = Math.Abs(flow - target.Value) <= tolerance.Value.Value;
        return matter.Against(this, subject, tolerance, met, $"Slump flow {Matter.Text(flow)} in, target {target.Text} in.", $"{first.Text} x {second.Text} in, mean {Matter.Text(flow)} in") with
        {
            Limit = $"{target.Text} in target, {tolerance.Printed}",
            Rounding = matter.StepText("mean", FreshTests.FlowStepIn, "in"),
            Clear = met ? "" : "The quality engineer decides on the concrete and raises a nonconformance for the unit.",
            Used = used,
        };
    }
}
