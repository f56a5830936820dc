using CsCheck;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story;
using Record = Traceability.Core.Records.Record;

namespace Traceability.Core.Tests.Dossiers;

/// <summary>The rules of assembling and judging, over generated dossiers.</summary>
public class AssembleTests
{
    private const int Iterations = 60;

    private static readonly DateTimeOffset s_at = new(2026, 4, 20, 12, 0, 0, TimeSpan.Zero);

    private static readonly Gen<DateTimeOffset> s_moment = Gen.Int[0, 60 * 24 * 60].Select(m => new DateTimeOffset(2026, 3, 2, 12, 0, 0, TimeSpan.Zero).AddMinutes(m));

    private static string Hash(Dossier dossier, DateTimeOffset at) => Judge.Dossier(dossier, at).Hash;

    // The hashed bytes themselves: a failure then says what differs.
    private static string Text(Dossier dossier, DateTimeOffset at) => System.Text.Encoding.UTF8.GetString(Judge.Dossier(dossier, at).Bytes);

    private static Record[] Shuffled(IEnumerable<Record> records, int seed)
    {
        var shuffled = records.ToArray();
        new Random(seed).Shuffle(shuffled);
        return shuffled;
    }

    [Fact]
    public void Neither_order_nor_repetition_of_the_records_changes_a_judgement()
    {
        Gen.Select(DossierGen.All, Gen.Int, s_moment).Sample((sent, seed, at) =>
        {
            var pool = Pool.Store(sent.Events);
            foreach (var unit in sent.Units.Select(Subject.Unit))
            {
                var expected = Hash(pool.Everything(unit), at);
                var twice = pool.Records.Concat(pool.Records.Where((_, i) => (i + seed) % 3 == 0));
                Assert.Equal(expected, Hash(pool.Everything(unit) with { Records = Shuffled(twice, seed) }, at));
            }
        }, iter: Iterations);
    }

    [Fact]
    public void The_order_in_which_facts_arrived_changes_no_judgement()
    {
        Gen.Select(DossierGen.All, Gen.Int, s_moment).Sample((sent, seed, at) =>
        {
            var first = Pool.Store(sent.Events);
            var other = Pool.Store(DossierGen.Shuffled(sent.Events.Concat(sent.Events.Take(7)), seed));
            Assert.All(sent.Units.Select(Subject.Unit), unit => Assert.Equal(Text(first.Gather(unit), at), Text(other.Gather(unit), at)));
        }, iter: Iterations);
    }

    [Fact]
    public void What_is_gathered_is_judged_like_everything_there_is()
    {
        Gen.Select(DossierGen.All, s_moment).Sample((sent, at) =>
        {
            var pool = Pool.Store(sent.Events);
            foreach (var unit in sent.Units.Select(Subject.Unit))
            {
                var gathered = pool.Gather(unit);
                var (small, large) = (Assemble.Unit(gathered), Assemble.Unit(pool.Everything(unit)));

                Assert.Equal(large.Entries.Select(e => (e.Source.Id, e.Version, e.At)), small.Entries.Select(e => (e.Source.Id, e.Version, e.At)));
                Assert.Equal(Judge.Unit(large, at).Hash, Judge.Unit(small, at).Hash);
            }
        }, iter: Iterations);
    }

    [Fact]
    public void A_dossier_written_and_read_back_is_judged_the_same()
    {
        Gen.Select(DossierGen.All, s_moment).Sample((sent, at) =>
        {
            var dossier = Pool.Store(sent.Events).Gather(Subject.Unit(sent.Units[0]));
            var read = Dossier.Read(dossier.Write(), _ => PlantStory.Time);

            Assert.Equal(dossier.Records.Select(r => (r.Id, r.Position)), read.Records.Select(r => (r.Id, r.Position)));
            Assert.Equal(Hash(dossier, at), Hash(read, at));
        }, iter: Iterations / 2);
    }

    [Fact]
    public void A_judgement_stands_until_the_moment_it_names_and_not_longer()
    {
        Gen.Select(DossierGen.All, s_moment, Gen.Double[0, 1]).Sample((sent, at, share) => { _ = Ends(sent, at, share); }, iter: Iterations);

        // Few generated dossiers name a moment, so some that do are always among them: dossiers of fixed seeds, looked at through their first days.
        var ended = Enumerable.Range(0, 60).Count(seed => Ends(DossierGen.Example(seed, 6), new DateTimeOffset(2026, 3, 2, 12, 0, 0, TimeSpan.Zero).AddHours(seed * 3), seed / 60.0));
        Assert.True(ended > 5, $"only {ended} examples name a moment");
    }

    // Whether time alone changes the judgement, which then changes at the moment it names and not before.
    private static bool Ends(DossierGen.Sent sent, DateTimeOffset at, double share)
    {
        var dossier = Pool.Store(sent.Events).Gather(Subject.Unit(sent.Units[0]));
        var judged = Judge.Dossier(dossier, at);
        if (judged.ValidUntil is not { } until)
        {
            Assert.Equal(judged.Hash, Hash(dossier, at.AddYears(50)));
            return false;
        }

        Assert.True(until > at);
        Assert.Equal(judged.Hash, Hash(dossier, at.AddTicks((long)(((until - at).Ticks - 1) * share))));
        Assert.NotEqual(judged.Hash, Hash(dossier, until));
        return true;
    }

    [Fact]
    public void No_record_that_bears_on_the_unit_vanishes()
    {
        DossierGen.All.Sample(sent =>
        {
            var pool = Pool.Store(sent.Events);
            foreach (var unit in sent.Units.Select(Subject.Unit))
            {
                var file = Assemble.Unit(pool.Everything(unit));
                var seen = file.Entries.SelectMany(e => new[] { e.Original.Id, e.Source.Id }).Concat(file.SetAside.Select(s => s.Record.Id)).ToHashSet();
                var gone = pool.Records.Where(r => r.Links().Any(l => l.From == unit) && !seen.Contains(r.Id));

                Assert.Empty(gone.Select(r => $"{r.Type} {r.Sent.Id}"));
            }
        }, iter: Iterations);
    }

    [Fact]
    public void Taking_away_a_favourable_fact_opens_no_hold()
    {
        var start = new DateTimeOffset(2026, 3, 2, 7, 0, 0, TimeSpan.FromHours(-5));
        var stories = new[] { Mishaps.None, Mishaps.All & ~Mishaps.ForeignHeat, Mishaps.LowStripSet | Mishaps.LateMillCertificate }.Select((m, i) => PlantStory.RigidFrame(20 + i, 2, start, m)).ToList();

        Gen.Select(Gen.Int[0, stories.Count - 1], Gen.Int, s_moment).Sample((which, pick, at) =>
        {
            var story = stories[which];
            var favourable = story.Facts.Where(f => f.Favourable).ToList();
            var taken = favourable[(int)((uint)pick % favourable.Count)];
            var whole = Pool.Store(story.Facts.Where(f => f.ArrivesAt <= at).Select(f => f.Event));
            var without = Pool.Store(story.Facts.Where(f => f.ArrivesAt <= at && f != taken).Select(f => f.Event));
            foreach (var unit in story.Units.Select(Subject.Unit))
            {
                var (before, after) = (Judge.Dossier(whole.Gather(unit), at), Judge.Dossier(without.Gather(unit), at));
                foreach (var hold in before.Holds.Where(h => h.State == HoldState.Held))
                    Assert.False(after.Hold(hold.Kind).State is HoldState.Ready or HoldState.Released, $"{hold.Kind} of {unit} opened without {taken.Event.Type} {taken.Event.Id}");
            }
        }, iter: Iterations * 3);
    }

    [Fact]
    public void The_story_is_worth_judging()
    {
        // The properties above would hold of an empty file too.
        var story = PlantStory.RigidFrame(1, 2, new DateTimeOffset(2026, 3, 2, 7, 0, 0, TimeSpan.FromHours(-5)));
        var file = Assemble.Unit(Pool.Store(story.Facts.Select(f => f.Event)).Gather(Subject.Unit(story.Units[0])));

        Assert.True(file.Entries.Count > 30, $"{file.Entries.Count}");
        Assert.True(Judge.Unit(file, s_at).Findings.Count(f => f.Verdict == Verdict.Met) > 10);
    }
}
