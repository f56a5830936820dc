using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// Portions of a composite lie close together, and the first tests begin soon after the last portion. Needs: placement, sample
/// tested. All times are of one station's clock. Asked only where the profile has the limits.
/// </summary>
public sealed class SampledInTime : IRequirement
{
    private const string Composite = "sampling.composite.minutes", Tests = "sampling.tests.minutes";

    private static readonly Citation Source = new("ASTM C172/C172M", SourceMark.Published);

    public string Id => "place.sampled-in-time";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Sampling in time";
    public IReadOnlyList<string> Limits => [Composite, Tests];

    public IEnumerable<Finding> Judge(Matter matter) => Limits.All(k => matter.Limit(k) is null)
        ? [Evidence.NotAsked(this, matter, matter.File.Unit.Key, Composite, Source)]
        : Evidence.PerSample(this, matter, Source, sample => new[]
        {
            Clock(matter, sample, Composite, "first portion", sample.Fact.FirstPortionAt, "last portion", sample.Fact.LastPortionAt),
            Clock(matter, sample, Tests, "last portion", sample.Fact.LastPortionAt, "start of the tests", sample.Fact.TestsStartedAt),
        }.OfType<Finding>());

    private Finding? Clock(Matter matter, Entry<SampleTested> sample, string key, string first, DateTimeOffset? from, string second, DateTimeOffset? to)
    {
        if (matter.Limit(key) is not { } limit) return null;
        var subject = $"{sample.Fact.About.Key} {first} to {second}";
        if (from is not { } begins || to is not { } ends)
            return Targets.NotRead(this, subject, $"The {(from is null ? first : second)} has no time.", sample, limit.Source) with { Limit = limit.Printed, LimitConfirmed = limit.ConfirmedBy is not null };
        var minutes = (decimal)(ends - begins).Ticks / TimeSpan.TicksPerMinute;
        var observed = $"{Matter.Text(decimal.Round(minutes, 2))} min";
        var met = minutes >= 0 && minutes <= limit.Value.Value;
        return matter.Against(this, subject, limit, met, minutes < 0 ? $"By the record the {second} came before the {first}." : $"{observed} from the {first} to the {second}.", observed) with
        {
            Verdict = minutes < 0 ? Verdict.CannotTell : met ? Verdict.Met : Verdict.NotMet,
            Rounding = "compared as measured",
            Clear = met ? "" : "The technician corrects the times if they are wrong; else the quality engineer decides what the sample is worth.",
            Used = [sample.Id, matter.Profile!.Id],
        };
    }
}
