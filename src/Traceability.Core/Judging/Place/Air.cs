using Traceability.Core.Concrete;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// Air content of every sample around the mix's target: gauge reading less the aggregate correction factor. Needs: placement,
/// sample tested, batch ticket, mix.
/// </summary>
public sealed class Air : IRequirement
{
    private const string Tolerance = "fresh.air.tolerance";

    private static readonly Citation Source = new("ASTM C231/C231M", SourceMark.Memory);

    public string Id => "place.air";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Air content";
    public IReadOnlyList<string> Limits => [Tolerance];

    public IEnumerable<Finding> Judge(Matter matter) => Evidence.PerSample(this, matter, Source, sample => [Targets.Retested(matter, sample, s => Sample(matter, s))]);

    private Finding Sample(Matter matter, Entry<SampleTested> sample)
    {
        var subject = sample.Fact.About.Key;
        if (Targets.MixOf(matter, sample) is not { } mix) return Targets.NoMix(this, matter, subject, sample, Source);
        if (matter.Limit(Tolerance) is not { } tolerance) return matter.NoLimit(this, subject, Tolerance);
        var target = mix.Fact.TargetAirPct;
        if (sample.Fact is not { AirGaugePct: { } gauge, AggregateCorrectionPct: { } correction })
            return mix.Fact.DryCast == true ? Targets.NotOfThisConcrete(this, subject, "Dry-cast concrete is not tested with the pressure meter.", sample, mix, Source) : Targets.NotRead(this, subject, "Air and the aggregate correction were not read.", sample, Source);
        var air = FreshTests.AirPct(gauge.Value, correction.Value);
        var met = Math.Abs(matter.Rounded(air, tolerance) - target.Value) <= tolerance.Value.Value;
        return matter.Against(this, subject, tolerance, met, $"Air {Matter.Text(air)} %, target {target.Text} %.",
            $"{Matter.Text(air)} % (gauge {gauge.Text} %, correction {correction.Text} %)") with
        {
            Limit = $"{Matter.Text(target.Value - tolerance.Value.Value)} to {Matter.Text(target.Value + tolerance.Value.Value)} %; {tolerance.Printed}",
            Clear = met ? "" : "The quality engineer decides on the concrete and raises a nonconformance for the unit.",
            Used = [sample.Id, mix.Id, matter.Profile!.Id],
        };
    }
}
