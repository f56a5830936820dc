using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>Visual stability index of every sample. Needs: placement, sample tested.</summary>
public sealed class Stability : IRequirement
{
    private const string Greatest = "fresh.stability.max";

    private static readonly Citation Source = new("ASTM C1611/C1611M", SourceMark.Published, Clause: "visual stability index");

    public string Id => "place.stability";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Stability of the fresh concrete";
    public IReadOnlyList<string> Limits => [Greatest];

    public IEnumerable<Finding> Judge(Matter matter) => Evidence.PerSample(this, matter, Source, sample =>
    {
        var subject = sample.Fact.About.Key;
        if (matter.Limit(Greatest) is not { } limit) return [matter.NoLimit(this, subject, Greatest)];
        if (sample.Fact.StabilityIndex is not { } index)
        {
            return
            [
                Targets.MixOf(matter, sample) is { Fact.TargetFlowIn: null } mix ? Targets.NotOfThisConcrete(this, subject, "The mix is not self-consolidating.", sample, mix, Source)
                    : Targets.NotRead(this, subject, "The visual stability index was not read.", sample, Source),
            ];
        }

        var met = index <= limit.Value.Value;
        return
        [
            matter.Against(this, subject, limit, met, $"Visual stability index {index}.", $"{index}") with
            {
                Rounding = "compared as read",
                Clear = met ? "" : "The quality engineer decides on the concrete and raises a nonconformance for the unit.",
                Used = [sample.Id, matter.Profile!.Id],
            },
        ];
    });
}
