using CsCheck;
using Traceability.Core.Judging;
using Record = Traceability.Core.Records.Record;

namespace Traceability.Core.Tests.Judging;

/// <summary>What holds of every hold, whatever is decided, ends, is waived or accepted.</summary>
public sealed class HoldPropertyTests
{
    private const int Iterations = 600;

    private static bool IsOpened(HoldState state) => state is HoldState.Released or HoldState.Overridden;

    [Fact]
    public void The_order_of_the_records_changes_nothing()
    {
        Gen.Select(HoldGen.All, Gen.Int).Sample((made, seed) =>
        {
            var shuffled = made.Unit.Records.ToArray();
            new Random(seed).Shuffle(shuffled);
            Assert.Equal(made.Unit.Judge().Hash, (made.Unit with { Records = shuffled }).Judge().Hash);
        }, iter: Iterations);
    }

    [Fact]
    public void Taking_away_what_is_favourable_opens_no_hold()
    {
        int OpensNothing(HoldGen.Case made)
        {
            var taken = 0;
            var before = made.Unit.Judge();
            foreach (var gone in made.Favourable)
            {
                var after = made.Without(gone).Judge();
                foreach (var hold in before.Holds)
                {
                    var now = after.Hold(hold.Kind);
                    Assert.True(IsOpened(hold.State) || !IsOpened(now.State), $"{hold.Kind}: {hold.State} became {now.State} without {gone}");
                    Assert.False(hold.State == HoldState.Held && now.State == HoldState.Ready, $"{hold.Kind} became ready without {gone}");
                    taken++;
                }
            }

            return taken;
        }

        HoldGen.All.Sample(made => { _ = OpensNothing(made); }, iter: Iterations / 2);
        var seen = HoldGen.All.Fixed(Iterations / 4).Sum(OpensNothing);
        Assert.True(seen > 500, $"{seen}");
    }

    [Fact]
    public void A_judgement_stands_until_the_moment_it_names_and_not_longer()
    {
        static bool Ends(HoldGen.Case made, double share)
        {
            var judged = made.Unit.Judge();
            if (judged.ValidUntil is not { } until) return false;
            Assert.True(until > made.Unit.At);
            // A waiver holds through its last moment, so that what is left can be a single tick.
            var left = (until - made.Unit.At).Ticks;
            var before = made.Unit.At.AddTicks(Math.Min((long)(left * share), left - 1));
            Assert.Equal(Bytes(judged), Bytes(made.Unit.AsOf(before).Judge()));
            Assert.NotEqual(judged.Hash, made.Unit.AsOf(until).Judge().Hash);
            return true;
        }

        Gen.Select(HoldGen.All, Gen.Double[0, 1]).Sample((made, share) => { _ = Ends(made, share); }, iter: Iterations);
        var ended = HoldGen.All.Fixed(Iterations / 2).Where((made, n) => Ends(made, n / (Iterations / 2.0))).Count();
        Assert.True(ended > 25, $"{ended}");
    }

    [Fact]
    public void No_letter_makes_a_finding_met_and_no_decision_changes_a_finding()
    {
        HoldGen.All.Sample(made =>
        {
            var decided = made.Unit with { Records = [.. made.Unit.Records.Where(r => r.Fact is not Traceability.Core.Events.IDecision)] };
            Assert.Equal(decided.Judge().Findings.Select(Text), made.Unit.Judge().Findings.Select(Text));
            var letters = made.Unit with { Records = [.. made.Unit.Records.Where(r => !IsLetter(r))] };
            var met = letters.Judge().Findings.Where(f => f.Verdict == Verdict.Met).Select(f => (f.Requirement, f.Subject)).ToHashSet();
            Assert.All(made.Unit.Judge().Findings.Where(f => f.Verdict == Verdict.Met), f => Assert.Contains((f.Requirement, f.Subject), met));
        }, iter: Iterations / 2);
    }

    [Fact]
    public void A_step_taken_without_a_release_that_stood_is_always_alarmed_and_nothing_released_is_a_breach_of_release()
    {
        static IEnumerable<HoldState> States(HoldGen.Case made)
        {
            var holds = made.Unit.Judge().Holds;
            foreach (var hold in holds)
            {
                Assert.Equal(hold.State == HoldState.PassedWithoutRelease, hold.Alarms.Any(a => a.Kind == AlarmKind.PassedWithoutRelease && a.Record == hold.Step && hold.Step is not null));
                if (hold.MayBeReleased) Assert.Empty(hold.OpenItems);
                if (hold.State is HoldState.Expired or HoldState.Held or HoldState.Ready && hold.NeedsRelease) Assert.Null(hold.Step);
                if (hold.Contradicted) Assert.True(IsOpened(hold.State) || hold.State == HoldState.CannotTell);
            }

            return holds.Select(h => h.State);
        }

        HoldGen.All.Sample(made => { _ = States(made); }, iter: Iterations);

        // Every state is among cases that are the same in every run, or the properties would say little.
        Assert.Equal(Enum.GetValues<HoldState>(), HoldGen.All.Fixed(Iterations * 2).SelectMany(States).Distinct().Order());
    }

    // The hashed bytes themselves: a failure then says what differs.
    private static string Bytes(Judgement judgement) => System.Text.Encoding.UTF8.GetString(judgement.Bytes);

    private static bool IsLetter(Record record) =>
        record.Fact is Traceability.Core.Events.AgencyWaived or Traceability.Core.Events.AgencyAccepted or Traceability.Core.Events.NonconformanceApproved;

    private static string Text(Finding finding) => $"{finding.Requirement} {finding.Subject} {finding.Verdict} {finding.Reason}";
}
