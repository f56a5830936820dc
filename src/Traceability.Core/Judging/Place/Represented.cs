using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// Every batch in the unit is represented by a valid test, as the profile samples: by volume, a sample of concrete in the unit,
/// of the same mix and day, with at most so much concrete to each; by day, so many samples of the mix and day, from whichever
/// unit of a lot; by group, a sample of the group of units that the unit was put into, which is no larger than allowed. A sample
/// is valid when its tester was certified and its instruments were in calibration. Needs: placement, batch ticket, sample
/// tested, by group the sampling lot. Cannot be fixed once the concrete has set.
/// </summary>
public sealed class Represented : IRequirement
{
    private const string Volume = "sampling.volume", Day = "sampling.day", Group = "sampling.group";

    private static readonly Citation Source = new("ACI 318", SourceMark.Published, "318-08", "frequency of testing");

    public string Id => "place.represented";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Every batch represented by a valid test";
    public IReadOnlyList<string> Limits => [Volume, Day, Group];

    /// <summary>The samples that may stand for a batch, and whether the valid ones do.</summary>
    private sealed record Standing(IReadOnlyList<(Entry<SampleTested> Sample, IReadOnlyList<string> Doubts)> Samples, bool Enough, string None, string TooFew, string Observed, IReadOnlyList<Guid> Lots);

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var key = matter.Edition("sampling-by") switch { "day" => Day, "group" => Group, _ => Volume };
        if (matter.File.BatchSubjects.Count > 0 && matter.Limit(key) is null) return [matter.NoLimit(this, matter.File.Unit.Key, key)];
        return Evidence.PerBatch(this, matter, Source, ticket => [Ticket(matter, ticket, matter.Limit(key)!, key switch
        {
            Day => ByDay(matter, ticket, matter.Limit(key)!),
            Group => ByGroup(matter, matter.Limit(key)!),
            _ => ByVolume(matter, ticket, matter.Limit(key)!),
        })]);
    }

    private Finding Ticket(Matter matter, Entry<BatchTicketed> ticket, Limit limit, Standing standing)
    {
        var valid = standing.Samples.Where(s => s.Doubts.Count == 0).ToList();
        var doubtful = standing.Samples.Where(s => s.Doubts.Count > 0).ToList();
        var reason = (standing.Samples.Count, valid.Count) switch
        {
            (0, _) => standing.None,
            (_, 0) => $"No valid sample: {string.Join("; ", doubtful.SelectMany(s => s.Doubts).Distinct())}.",
            _ when !standing.Enough => standing.TooFew,
            _ => $"Represented by sample {string.Join(", ", valid.Select(s => s.Sample.Fact.Sample))}.",
        };
        return Matter.Finding(this, ticket.Fact.About.Key, standing.Enough ? Verdict.Met : Verdict.Missing, reason, limit.Source) with
        {
            Limit = limit.Printed,
            LimitConfirmed = limit.ConfirmedBy is not null,
            Observed = standing.Observed,
            Clear = standing.Enough ? "" : "The laboratory records the sample; once the concrete has set the quality engineer decides what stands for it.",
            Used = [ticket.Id, .. standing.Lots, .. valid.Select(s => s.Sample.Id)],
            SetAside = [.. doubtful.Select(s => new UnusedEvidence(s.Sample.Id, string.Join("; ", s.Doubts))), .. matter.Unused<SampleTested>()],
        };
    }

    private static Standing ByVolume(Matter matter, Entry<BatchTicketed> ticket, Limit limit)
    {
        var tickets = matter.File.Batches.GroupBy(b => b.Fact.About).ToDictionary(g => g.Key, g => g.First());
        bool SameLot(Subject batch) => tickets.TryGetValue(batch, out var other) && other.Fact.Mix == ticket.Fact.Mix && other.Fact.Batch.Date == ticket.Fact.Batch.Date;
        var mine = With(matter, matter.File.Samples.Where(s => SameLot(s.Fact.Batch.Subject)));
        var valid = mine.Count(s => s.Doubts.Count == 0);
        var volume = matter.File.Placements.Where(p => SameLot(p.Row.Batch.Subject)).Sum(p => p.Row.VolumeYd3.Value);
        return new(mine, valid > 0 && volume <= valid * limit.Value.Value, "No sample of this mix and day was taken from concrete in the unit.", $"{valid} valid samples stand for {Matter.Text(volume)} yd3.",
            $"{valid} valid of {mine.Count}, {Matter.Text(volume)} yd3 in the unit", []);
    }

    private static Standing ByDay(Matter matter, Entry<BatchTicketed> ticket, Limit limit)
    {
        var tickets = matter.File.Batches.GroupBy(b => b.Fact.About).ToDictionary(g => g.Key, g => g.First());
        var lots = Lots(matter).Where(l => l.Fact.Mix == ticket.Fact.Mix).ToList();
        // A sample of another unit's batch is of the same mix when the lot both belong to says so.
        var mine = With(matter, matter.File.RepresentingSamples.Where(s => s.Fact.Batch.Date == ticket.Fact.Batch.Date
            && (tickets.TryGetValue(s.Fact.Batch.Subject, out var own) ? own.Fact.Mix == ticket.Fact.Mix : lots.Exists(l => l.Fact.SamplingLot == s.Fact.SamplingLot))));
        var valid = mine.Count(s => s.Doubts.Count == 0);
        return new(mine, valid >= limit.Value.Value, "No sample of this mix was taken on this day that stands for the unit.", $"{valid} valid samples of this mix and day, {limit.Value.Text} are asked.",
            $"{valid} valid of {mine.Count} of the day", [.. lots.Select(l => l.Id)]);
    }

    private static Standing ByGroup(Matter matter, Limit limit)
    {
        var lots = Lots(matter).Where(l => l.Fact.Basis == SamplingBasis.UnitGroup).ToList();
        var allowed = lots.Where(l => l.Fact.Units.Count <= limit.Value.Value).ToList();
        var mine = With(matter, matter.File.RepresentingSamples.Where(s => allowed.Exists(l => l.Fact.SamplingLot == s.Fact.SamplingLot)));
        var valid = mine.Count(s => s.Doubts.Count == 0);
        var none = (lots.Count, allowed.Count) switch
        {
            (0, _) => "The unit was put into no group that a sample stands for.",
            (_, 0) => $"The group has {lots.Max(l => l.Fact.Units.Count)} units; one sample stands for at most {limit.Value.Text}.",
            _ => $"No sample stands for group {string.Join(", ", allowed.Select(l => l.Fact.SamplingLot))}.",
        };
        return new(mine, valid > 0, none, "", $"{valid} valid of {mine.Count} of the group", [.. lots.Select(l => l.Id)]);
    }

    private static IEnumerable<Entry<SamplingLotDefined>> Lots(Matter matter) =>
        matter.File.Of<SamplingLotDefined>().Where(l => l.Fact.Units.Any(u => Subject.Unit(u) == matter.File.Unit));

    private static List<(Entry<SampleTested> Sample, IReadOnlyList<string> Doubts)> With(Matter matter, IEnumerable<Entry<SampleTested>> samples) =>
        [.. samples.Select(s => (s, Evidence.Doubts(matter, s)))];
}
