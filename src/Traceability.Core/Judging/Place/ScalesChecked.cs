using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// Scales of a batch were accurate at their last check before it: every point inside the larger of a share of the capacity and a share of
/// the load. Needs: placement, batch ticket with its instruments, scale checked. Asked only where the profile has both limits.
/// </summary>
public sealed class ScalesChecked : IRequirement
{
    private const string OfCapacity = "scale.accuracy.capacity", OfLoad = "scale.accuracy.load";

    private static readonly Citation Source = new("ASTM C94/C94M", SourceMark.Memory, Clause: "accuracy of scales");

    public string Id => "place.scales-checked";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Accuracy of the scales";
    public IReadOnlyList<string> Limits => [OfCapacity, OfLoad];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (Limits.All(k => matter.Limit(k) is null)) return [Evidence.NotAsked(this, matter, unit, OfCapacity, Source)];
        if (matter.Limit(OfCapacity) is not { } capacity) return [matter.NoLimit(this, unit, OfCapacity)];
        if (matter.Limit(OfLoad) is not { } load) return [matter.NoLimit(this, unit, OfLoad)];
        return Evidence.PerBatch(this, matter, Source, ticket =>
        {
            var checks = (ticket.Fact.Instruments ?? []).Select(i => matter.File.Of<ScaleChecked>().Where(c => c.Fact.Instrument == i && c.Fact.CheckedOn <= ticket.Fact.Batch.Date).OrderBy(c => c.Fact.CheckedOn).LastOrDefault()).OfType<Entry<ScaleChecked>>().ToList();
            return checks.Count == 0
                ? [Matter.Finding(this, ticket.Fact.About.Key, Verdict.Missing, "No check of a scale of this batch is recorded.", capacity.Source) with
                {
                    Limit = capacity.Printed, LimitConfirmed = capacity.ConfirmedBy is not null, Clear = "The batch operator records the check, or names the scales on the ticket.", Used = [ticket.Id, matter.Profile!.Id], SetAside = matter.Unused<ScaleChecked>(),
                }]
                : checks.Select(c => Scale(matter, ticket, c, capacity, load));
        });
    }

    private Finding Scale(Matter matter, Entry<BatchTicketed> ticket, Entry<ScaleChecked> check, Limit capacity, Limit load)
    {
        decimal Allowed(ScalePoint p) => Math.Max(check.Fact.CapacityLb.Value * capacity.Value.Value, p.AppliedLb.Value * load.Value.Value) / 100;
        var worst = check.Fact.Points.MaxBy(p => Math.Abs(p.IndicatedLb.Value - p.AppliedLb.Value) - Allowed(p))!;
        var error = worst.IndicatedLb.Value - worst.AppliedLb.Value;
        var met = Math.Abs(error) <= Allowed(worst);
        return matter.Against(this, $"{ticket.Fact.About.Key} {check.Fact.Instrument}", capacity, met, $"Checked on {check.Fact.CheckedOn:yyyy-MM-dd}: {BatchWeights.Signed(error)} lb at {worst.AppliedLb.Text} lb, {Matter.Text(Allowed(worst))} lb allowed.", $"{BatchWeights.Signed(error)} lb") with
        {
            Limit = $"{capacity.Printed}; {load.Printed}",
            Rounding = "compared as read",
            Clear = met ? "" : "The quality engineer decides on the batches since the check before.",
            Used = [ticket.Id, check.Id, matter.Profile!.Id],
        };
    }
}
