using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>Moulding of the strength specimens began soon enough after sampling. Needs: placement, sample tested. Both times are of one station.</summary>
public sealed class Moulding : IRequirement
{
    private const string Minutes = "fresh.moulding.minutes";

    private static readonly Citation Source = new("ASTM C31/C31M", SourceMark.Published, Clause: "moulding specimens");

    public string Id => "place.moulding";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Time to the moulding of specimens";
    public IReadOnlyList<string> Limits => [Minutes];

    public IEnumerable<Finding> Judge(Matter matter) => Evidence.PerSample(this, matter, Source, sample =>
    {
        var subject = sample.Fact.About.Key;
        if (matter.Limit(Minutes) is not { } limit) return [matter.NoLimit(this, subject, Minutes)];
        var minutes = (decimal)(sample.Fact.MouldedAt - sample.Fact.SampledAt).Ticks / TimeSpan.TicksPerMinute;
        var verdict = minutes < 0 ? Verdict.CannotTell : minutes <= limit.Value.Value ? Verdict.Met : Verdict.NotMet;
        var observed = $"{Matter.Text(decimal.Round(minutes, 1))} min";
        return
        [
            matter.Against(this, subject, limit, verdict == Verdict.Met, verdict == Verdict.CannotTell ? "By the record the specimens were moulded before the sample was taken." : $"Moulding began {observed} after sampling.", observed) with
            {
                Verdict = verdict,
                Rounding = "compared as measured",
                Clear = verdict == Verdict.Met ? "" : "The laboratory corrects the times if they are wrong; else the quality engineer decides whether these specimens may stand.",
                Used = [sample.Id, matter.Profile!.Id],
            },
        ];
    });
}
