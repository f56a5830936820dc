using Traceability.Core.Concrete;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Quantities;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// What else is read of self-consolidating concrete: time to a flow of 20 in, blocking by the J-ring, segregation in the column.
/// Needs: placement, sample tested, batch ticket, mix. Each is asked only where the profile has its limit.
/// </summary>
public sealed class SelfConsolidating : IRequirement
{
    private const string Fastest = "fresh.t50.min", Slowest = "fresh.t50.max", Ring = "fresh.j-ring", Column = "fresh.column";

    private static readonly Citation Source = new("ASTM C1611/C1611M, C1621/C1621M and C1610/C1610M", SourceMark.Published);

    public string Id => "place.self-consolidating";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Passing ability, viscosity and segregation";
    public IReadOnlyList<string> Limits => [Fastest, Slowest, Ring, Column];

    public IEnumerable<Finding> Judge(Matter matter) => Limits.All(k => matter.Limit(k) is null)
        ? [Evidence.NotAsked(this, matter, matter.File.Unit.Key, Slowest, Source)]
        : Evidence.PerSample(this, matter, Source, sample => Sample(matter, sample));

    private IEnumerable<Finding> Sample(Matter matter, Entry<SampleTested> sample)
    {
        var subject = sample.Fact.About.Key;
        if (Targets.MixOf(matter, sample) is not { } mix) return [Targets.NoMix(this, matter, subject, sample, Source)];
        if (mix.Fact.TargetFlowIn is null) return [Targets.NotOfThisConcrete(this, subject, "The mix is not self-consolidating.", sample, mix, Source)];
        var fact = sample.Fact;
        var blocked = fact is { FlowIn: [var first, var second], JRingFlowIn: { } ring } && FreshTests.FlowValid(first.Value, second.Value) ? (first.Value + second.Value) / 2 - ring.Value : (decimal?)null;
        var column = fact is { ColumnTopLb: { } top, ColumnBottomLb: { } bottom } && top.Value + bottom.Value > 0 ? FreshTests.ColumnPct(top.Value, bottom.Value) : (decimal?)null;
        return new[]
        {
            Value(matter, sample, mix, Fastest, "time to 20 in", fact.T50S?.Value, "s", atLeast: true), Value(matter, sample, mix, Slowest, "time to 20 in", fact.T50S?.Value, "s"),
            Value(matter, sample, mix, Ring, "flow less J-ring flow", blocked, "in"), Value(matter, sample, mix, Column, "segregation of the column", column, "%"),
        }.OfType<Finding>();
    }

    private Finding? Value(Matter matter, Entry<SampleTested> sample, Entry<MixApproved> mix, string key, string what, decimal? value, string unit, bool atLeast = false)
    {
        if (matter.Limit(key) is not { } limit) return null;
        var subject = $"{sample.Fact.About.Key} {what}, {(atLeast ? "least" : "most")}";
        if (value is not { } read) return Targets.NotRead(this, subject, $"The {what} was not read.", sample, limit.Source) with { Limit = limit.Printed, LimitConfirmed = limit.ConfirmedBy is not null };
        var compared = matter.Rounded(read, limit);
        var met = atLeast ? compared >= limit.Value.Value : compared <= limit.Value.Value;
        var observed = $"{Matter.Text(decimal.Round(read, 2))} {unit}";
        return matter.Against(this, subject, limit, met, $"The {what} is {observed}.", observed) with
        {
            Clear = met ? "" : "The quality engineer decides on the concrete and raises a nonconformance for the unit.",
            Used = [sample.Id, mix.Id, matter.Profile!.Id],
        };
    }
}
