using Traceability.Core.Concrete;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Quantities;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// Water to cementitious materials as batched is not above the mix's largest ratio. Needs: placement, batch ticket, mix, water
/// added, aggregate moisture tested. Water is what was metered, what was added later, and the free water of every aggregate on its
/// oven-dry mass. On the probe's moisture it is provisional: a laboratory test of that day settles it for good or bad, or the
/// laboratory's figures sent as a correction of the ticket.
/// </summary>
public sealed class WaterToCementitious : IRequirement
{
    private static readonly Citation Source = new("ACI 318", SourceMark.Memory, "318-19", "19.3.2.1");

    public string Id => "place.w-cm";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Water to cementitious materials";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter) => Evidence.PerBatch(this, matter, Source, ticket => [Ticket(matter, ticket)]);

    private Finding Ticket(Matter matter, Entry<BatchTicketed> ticket)
    {
        var fact = ticket.Fact;
        var subject = fact.About.Key;
        if (Evidence.MixInForce(matter, fact.Mix, fact.Batch.Date) is not { } mix)
        {
            return Matter.Finding(this, subject, Verdict.Missing, $"No approval of mix {fact.Mix}, which states the largest ratio, was in force on {fact.Batch.Date:yyyy-MM-dd}.", Source)
                with { Clear = "The quality engineer records the approval.", Used = [ticket.Id], SetAside = matter.Unused<MixApproved>() };
        }

        var source = Evidence.Of(mix);
        var added = FieldWater.Added(matter, ticket);
        var cementitious = fact.Ingredients.Where(i => i.Material is Material.Cement or Material.SupplementaryCementitious).Sum(i => i.BatchedLb.Value);
        var aggregates = fact.Ingredients.Where(i => i.Material is Material.FineAggregate or Material.CoarseAggregate).Select(a => (Weighed: a, Test: Moisture.For(matter, ticket, a))).ToList();
        if (cementitious <= 0 || aggregates.Count == 0)
            return Incomplete(cementitious <= 0 ? "The ticket shows no cementitious material." : "The ticket shows no aggregate.");

        // A doubtful test settles nothing, but a bad figure of it is not dropped.
        if (Ratio(t => t is { Doubts.Count: 0 }) is not { } ratio) return Incomplete("Moisture or absorption of an aggregate is neither on the ticket nor tested.");
        var (worst, doubtful) = Ratio(_ => true) is { } all && all.Value > ratio.Value && !Holds(all.Value) && Holds(ratio.Value) ? (all, true) : (ratio, false);
        var laboratory = fact.MoistureBasis == MoistureBasis.Laboratory || aggregates.TrueForAll(a => a.Test is { Doubts.Count: 0 });
        var verdict = !Holds(worst.Value) ? Verdict.NotMet : laboratory ? Verdict.Met : Verdict.Provisional;
        var doubts = aggregates.SelectMany(a => a.Test?.Doubts ?? []).Distinct().ToList();
        return Matter.Finding(this, subject, verdict,
            $"w/cm {Matter.Text(decimal.Round(worst.Value, 4))} on {(doubtful ? "a doubtful" : laboratory ? "the laboratory's" : "the probe's")} moisture: {Matter.Text(decimal.Round(worst.Water, 1))} lb of water, {Matter.Text(cementitious)} lb of cementitious materials."
            + (doubts.Count == 0 ? "" : $" A moisture test settles nothing: {string.Join("; ", doubts)}."), source) with
        {
            Limit = $"at most {mix.Fact.MaxWcm.Text}",
            LimitConfirmed = true,
            Observed = Matter.Text(decimal.Round(worst.Value, 4)),
            Rounding = matter.RoundingText(mix.Fact.MaxWcm),
            Clear = verdict switch
            {
                Verdict.NotMet => "The quality engineer decides on the batch and raises a nonconformance for the unit.",
                Verdict.Provisional => "The laboratory's moisture test of the day settles it, or its figures as a correction of the ticket.",
                _ => "",
            },
            Used = [ticket.Id, mix.Id, .. added.Records, .. aggregates.Where(a => a.Test is { } t && (doubtful || t.Doubts.Count == 0)).Select(a => a.Test!.Entry.Id)],
            SetAside = [.. aggregates.Where(a => !doubtful && a.Test is { Doubts.Count: > 0 }).Select(a => new UnusedEvidence(a.Test!.Entry.Id, string.Join("; ", a.Test.Doubts)))],
        };

        bool Holds(decimal value) => Rounding.ForLimit(value, mix.Fact.MaxWcm, matter.Rounding) <= mix.Fact.MaxWcm.Value;

        (decimal Value, decimal Water)? Ratio(Func<Moisture?, bool> counts)
        {
            var water = fact.WaterBatchedLb.Value + added.Lb;
            foreach (var (weighed, test) in aggregates)
            {
                var used = counts(test) ? test : null;
                if ((used?.TotalPct ?? weighed.MoisturePct?.Value) is not { } moisture || (used?.Entry.Fact.AbsorptionPct ?? weighed.AbsorptionPct)?.Value is not { } absorption || moisture < 0 || absorption < 0) return null;
                water += BatchWater.FreeWater(weighed.BatchedLb.Value, moisture, absorption);
            }

            return (BatchWater.WaterToCementitious(water, cementitious), water);
        }

        Finding Incomplete(string why) => Matter.Finding(this, subject, Verdict.Missing, why, source)
            with { Limit = $"at most {mix.Fact.MaxWcm.Text}", LimitConfirmed = true, Clear = "The batch operator corrects the ticket.", Used = [ticket.Id, mix.Id] };
    }
}
