using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>Temperature of the fresh concrete of every sample between the profile's limits. Needs: placement, sample tested.</summary>
public sealed class Temperature : IRequirement
{
    private const string Least = "fresh.temperature.min", Greatest = "fresh.temperature.max";

    private static readonly Citation Source = new("ASTM C1064/C1064M", SourceMark.Published);

    public string Id => "place.temperature";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Temperature of the fresh concrete";
    public IReadOnlyList<string> Limits => [Least, Greatest];

    public IEnumerable<Finding> Judge(Matter matter) => Evidence.PerSample(this, matter, Source, sample =>
    {
        var subject = sample.Fact.About.Key;
        if (matter.Limit(Least) is not { } least) return [matter.NoLimit(this, subject, Least)];
        if (matter.Limit(Greatest) is not { } greatest) return [matter.NoLimit(this, subject, Greatest)];
        var observed = sample.Fact.TemperatureF;
        var cold = matter.Rounded(observed.Value, least) < least.Value.Value;
        var hot = matter.Rounded(observed.Value, greatest) > greatest.Value.Value;
        return
        [
            matter.Against(this, subject, hot ? greatest : least, !cold && !hot, $"{observed.Text} F, {(cold ? "too cold" : hot ? "too hot" : "inside the limits")}.", observed.Text + " F") with
            {
                Limit = cold ? least.Printed : hot ? greatest.Printed : $"{least.Printed}; {greatest.Printed}",
                LimitConfirmed = least.ConfirmedBy is not null && greatest.ConfirmedBy is not null,
                Clear = cold || hot ? "The quality engineer decides on the concrete and raises a nonconformance for the unit." : "",
                Used = [sample.Id, matter.Profile!.Id],
            },
        ];
    });
}
