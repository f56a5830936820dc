using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// Every batch in the unit is represented by a valid test: a sample of concrete in the unit, of the same mix and day, with at
/// most so much concrete to each. A sample is valid when its tester was certified and its instruments were in calibration.
/// Needs: placement, batch ticket, sample tested. Cannot be mended once the concrete has set.
/// </summary>
public sealed class Represented : IRequirement
{
    private const string Volume = "sampling.volume";

    private static readonly Citation Source = new("ACI 318", SourceMark.Published, "318-08", "frequency of testing");

    public string Id => "place.represented";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Every batch represented by a valid test";
    public IReadOnlyList<string> Limits => [Volume];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        if (matter.File.BatchSubjects.Count > 0 && matter.Limit(Volume) is null) return [matter.NoLimit(this, matter.File.Unit.Key, Volume)];
        var tickets = matter.File.Batches.GroupBy(b => b.Fact.About).ToDictionary(g => g.Key, g => g.First());
        var samples = matter.File.Samples.Select(s => (Sample: s, Doubts: Evidence.Doubts(matter, s))).ToList();

        return Evidence.PerBatch(this, matter, Source, ticket =>
        {
            var limit = matter.Limit(Volume)!;
            bool SameLot(Subject batch) => tickets.TryGetValue(batch, out var other) && other.Fact.Mix == ticket.Fact.Mix && other.Fact.Batch.Date == ticket.Fact.Batch.Date;
            var mine = samples.Where(s => SameLot(s.Sample.Fact.Batch.Subject)).ToList();
            var valid = mine.Where(s => s.Doubts.Count == 0).ToList();
            var volume = matter.File.Placements.Where(p => SameLot(p.Row.Batch.Subject)).Sum(p => p.Row.VolumeYd3.Value);
            var enough = valid.Count > 0 && volume <= valid.Count * limit.Value.Value;
            var reason = (mine.Count, valid.Count) switch
            {
                (0, _) => "No sample of this mix and day was taken from concrete in the unit.",
                (_, 0) => $"No valid sample: {string.Join("; ", mine.SelectMany(s => s.Doubts).Distinct())}.",
                _ when !enough => $"{valid.Count} valid samples stand for {Matter.Text(volume)} yd3.",
                _ => $"Represented by sample {string.Join(", ", valid.Select(s => s.Sample.Fact.Sample))}.",
            };
            return
            [
                Matter.Finding(this, ticket.Fact.About.Key, enough ? Verdict.Met : Verdict.Missing, reason, limit.Source) with
                {
                    Limit = limit.Printed,
                    LimitConfirmed = limit.ConfirmedBy is not null,
                    Observed = $"{valid.Count} valid of {mine.Count}, {Matter.Text(volume)} yd3 in the unit",
                    Clear = enough ? "" : "The laboratory records the sample; once the concrete has set the quality engineer decides what stands for it.",
                    Used = [ticket.Id, .. valid.Select(s => s.Sample.Id)],
                    SetAside = [.. mine.Where(s => s.Doubts.Count > 0).Select(s => new UnusedEvidence(s.Sample.Id, string.Join("; ", s.Doubts))), .. matter.Unused<SampleTested>()],
                },
            ];
        });
    }
}
