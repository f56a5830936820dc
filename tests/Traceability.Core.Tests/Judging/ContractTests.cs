using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;
using static Traceability.Core.Tests.Judging.HoldCase;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Judging;

/// <summary>What an agency did for one contract does not count for another that the unit comes under afterwards.</summary>
public sealed class ContractTests
{
    private const string Tight = "pour.form-tight", Other = "C-OTHER";

    private static UnitCase Agency { get; } = WithOther(BeforePour.PourRule(HoldAuthority.AgencyHold));

    /// <summary>The same profile adopted by a second contract.</summary>
    private static UnitCase WithOther(UnitCase unit) => unit.Add(unit.The<ContractOpened>() with { Contract = Other }, unit.RecordOf<ContractOpened>().OccurredAt.At.AddMinutes(1), "p-101");

    private static UnitCase Remarked(UnitCase unit, double hours, string contract = Other) => unit.At(new UnitRemarked(Unit, contract, "M-9", "the other job needs one"), hours);

    [Fact]
    public void The_agency_s_release_given_before_another_contract_counts_no_more_at_a_step_taken_or_to_take()
    {
        var released = Agency.At(new AgencyHoldReleased(Unit, HoldKind.Pour), -3).Release(-2);
        Assert.Equal(HoldState.Released, released.State());
        Assert.NotEqual(HoldState.Released, Remarked(released, -1).State());
        Assert.Equal(Verdict.Pending, Remarked(released, -1).Verdict("pour.agency"));
        Assert.Equal((Verdict.NotMet, HoldState.PassedWithoutRelease), (Remarked(released.Poured(), 20).Verdict("pour.agency"), Remarked(released.Poured(), 20).State()));
        // The same contract under another mark changes nothing.
        Assert.Equal(HoldState.Released, Remarked(released, -1, Agency.The<ContractOpened>().Contract).State());
    }

    [Fact]
    public void A_release_of_the_plant_ends_with_a_change_of_contract_and_one_given_after_it_stands()
    {
        var plant = WithOther(BeforePour).Release(-3);
        Assert.Equal(HoldState.Released, plant.State());
        var ended = Remarked(plant, -2);
        Assert.Equal((HoldState.Expired, true), (ended.State(), ended.Hold().MayBeReleased));
        Assert.Contains("another contract", ended.Hold().Cause, StringComparison.Ordinal);
        Assert.Equal(HoldState.PassedWithoutRelease, ended.Poured().State());
        Assert.Equal(HoldState.Released, ended.Release(-1, id: "release-2").State());
        // After the pour it was the release of its step.
        Assert.Equal(HoldState.Released, Remarked(plant.Poured(), 20).State());
    }

    [Fact]
    public void A_stamp_counts_under_the_contract_it_was_set_for()
    {
        var asked = WithOther(Good).Limit("asked.stamp", "1").At(new UnitStamped(Unit, "S-1"), 20);
        Assert.Equal(Verdict.Met, asked.Verdict("ship.stamped"));
        Assert.Equal(Verdict.Missing, Remarked(asked, 21).Verdict("ship.stamped"));
        Assert.Equal(Verdict.Met, Remarked(asked, 19).Verdict("ship.stamped"));
        // One second apart on two clocks: nobody can say for which contract it was set.
        Assert.Equal(Verdict.Missing, WithOther(Good).Limit("asked.stamp", "1").Add(new UnitStamped(Unit, "S-1"), Pour.AddHours(19).AddSeconds(1), source: "/test/agency").At(new UnitRemarked(Unit, Other, "M-9", "needed"), 19).Verdict("ship.stamped"));
    }

    [Fact]
    public void Letters_of_the_agency_are_of_the_contract_they_were_written_under_and_the_engineer_of_record_s_stands()
    {
        var leaking = WithOther(Good.Change<PrePourInspected>(p => p with { FormTight = false }));
        UnitCase Nonconformance(Approver by) => leaking
            .At(new NonconformanceRaised("NC-1", [Unit], NonconformanceClass.Minor, false, "leaked", Tight), 5)
            .At(new NonconformanceDisposed("NC-1", DispositionKind.UseAsIs, "grind"), 6)
            .At(new NonconformanceApproved("NC-1", by, "L-21", Pour.AddHours(7), [new AcceptedFinding(Tight)]), 7);
        var accepted = leaking.At(new AgencyAccepted(Unit, [new AcceptedFinding(Tight)], "L-20", new DateOnly(2026, 3, 9)), 8);
        var waived = leaking.At(new AgencyWaived([Unit], HoldKind.Pour, Pour.AddHours(-4), Pour.AddHours(4), "L-30", Tight), -5);
        Assert.Equal([Verdict.NotMetAccepted, Verdict.NotMetAccepted, Verdict.Waived], new[] { Nonconformance(Approver.Agency), accepted, waived }.Select(u => u.Verdict(Tight)));
        Assert.All(new[] { Nonconformance(Approver.Agency), accepted, waived }, u => Assert.Equal(Verdict.NotMet, Remarked(u, 20).Verdict(Tight)));
        Assert.Equal(Verdict.NotMetAccepted, Remarked(Nonconformance(Approver.EngineerOfRecord), 20).Verdict(Tight));
    }

    [Fact]
    public void Its_presence_and_the_notice_it_had_were_for_the_earlier_contract()
    {
        var witness = WithOther(BeforePour.PourRule(HoldAuthority.AgencyWitness, noticeHours: 24));
        foreach (var act in new IFact[] { new AgencyPresent([Unit], HoldKind.Pour), new NoticeGiven([Unit], HoldKind.Pour, Pour, "message 44") })
        {
            var acted = witness.At(act, act is NoticeGiven ? -30 : -1).Poured();
            Assert.Equal(Verdict.Met, acted.Verdict("pour.agency"));
            Assert.Equal(Verdict.NotMet, Remarked(acted, 20).Verdict("pour.agency"));
        }
    }
}
