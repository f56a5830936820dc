using Traceability.Core.Events;
using Traceability.Core.Judging;
using static Traceability.Core.Tests.Judging.HoldCase;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Judging;

/// <summary>The agency's own part in a hold: it acts, or had notice, or waived that for this unit and this moment.</summary>
public sealed class AgencyTests
{
    private static UnitCase Agency { get; } = BeforePour.PourRule(HoldAuthority.AgencyHold, expires: ExpiryCause.Rain);

    private static UnitCase Witness { get; } = BeforePour.PourRule(HoldAuthority.AgencyWitness, noticeHours: 24);

    private static AgencyWaived Waiver(double from, double until, params string[] units) =>
        new(units.Length == 0 ? [Unit] : units, HoldKind.Pour, Pour.AddHours(from), Pour.AddHours(until), "L-12");

    private static NoticeGiven Notice(double step = 0) => new([Unit], HoldKind.Pour, Pour.AddHours(step), "message 44");

    [Fact]
    public void An_agency_s_hold_is_held_until_it_acts_and_the_plant_s_release_waits_for_it()
    {
        Assert.Equal((HoldState.Held, HoldAuthority.AgencyHold), (Agency.State(), Agency.Hold().Authority));
        Assert.Equal(HoldState.Held, Agency.Release(-1).State());
        Assert.Equal(HoldState.PassedWithoutRelease, Agency.Release(-1).Poured().State());
        var acted = Agency.At(new AgencyHoldReleased(Unit, HoldKind.Pour), -2, "p-301");
        Assert.Equal((HoldState.Ready, true), (acted.State(), acted.Hold().MayBeReleased));
        Assert.Equal(HoldState.Released, acted.Release(-1).State());
        Assert.Equal(HoldState.Released, acted.Release(-1).Poured().State());
        Assert.Equal(HoldState.PassedWithoutRelease, acted.Poured().State());
    }

    [Fact]
    public void Where_the_plant_need_not_release_the_agency_s_release_alone_opens_it()
    {
        var alone = Agency.Change<ProfilePublished>(p => p with { Releases = [] });
        Assert.Equal(HoldState.Held, alone.State());
        Assert.Equal(HoldState.PassedWithoutRelease, alone.Poured().State());
        var acted = alone.At(new AgencyHoldReleased(Unit, HoldKind.Pour), -2, "p-301");
        Assert.Equal((HoldState.Released, "p-301"), (acted.State(), acted.Hold().ReleasedBy));
        Assert.Equal(HoldState.Released, acted.Poured().State());
        Assert.Equal(HoldState.Held, acted.Change<PrePourInspected>(p => p with { FormTight = false }).State());
    }

    [Fact]
    public void The_agency_s_release_expires_by_its_own_time_and_by_the_rule_s_causes()
    {
        var until = Agency.At(new AgencyHoldReleased(Unit, HoldKind.Pour, "L-11", Pour.AddHours(-1)), -2);
        Assert.Equal((HoldState.Ready, Pour.AddHours(-1)), (until.Now(-1.5).State(), until.Now(-1.5).Judge().ValidUntil));
        Assert.Equal(HoldState.Held, until.Now(-1).State());
        Assert.Equal(HoldState.PassedWithoutRelease, until.Release(-0.5).Poured().State());
        Assert.Contains("valid until", until.Now(-1).Finding("pour.agency").Reason, StringComparison.Ordinal);
        var rained = Agency.At(new AgencyHoldReleased(Unit, HoldKind.Pour), -2).At(new WeatherRead([Unit], R("48"), true), -1);
        Assert.Equal(HoldState.Held, rained.State());
    }

    [Fact]
    public void The_plant_does_not_undo_what_the_agency_released()
    {
        var acted = Agency.At(new AgencyHoldReleased(Unit, HoldKind.Pour), -2, "p-301");
        var undone = acted.At(new ReleaseUndone(Unit, HoldKind.Pour, acted.Records[^1].Id, "not ours"), -1);
        Assert.Equal((HoldState.Ready, Verdict.Met), (undone.State(), undone.Verdict("pour.agency")));
    }

    [Fact]
    public void A_waiver_that_covers_the_moment_opens_it_as_waived_never_as_met()
    {
        var waived = Agency.At(Waiver(-8, 8), -24);
        Assert.Equal((Verdict.Waived, HoldState.Ready), (waived.Verdict("pour.agency"), waived.State()));
        Assert.Equal((Verdict.Waived, HoldState.Released), (waived.Release(-1).Poured().Verdict("pour.agency"), waived.Release(-1).Poured().State()));
    }

    [Fact]
    public void A_waiver_of_the_wrong_day_does_not_count_and_the_finding_says_so()
    {
        var wrong = Agency.At(Waiver(-48, -40), -60).Release(-1);
        Assert.Equal(HoldState.Held, wrong.State());
        Assert.Contains("waiver does not cover this moment: letter L-12", wrong.Finding("pour.agency").Reason, StringComparison.Ordinal);
        var poured = wrong.Poured();
        Assert.Equal((Verdict.NotMet, HoldState.PassedWithoutRelease), (poured.Verdict("pour.agency"), poured.State()));
        Assert.Contains($"does not cover {Pour:yyyy-MM-dd HH:mm}", poured.Finding("pour.agency").Reason, StringComparison.Ordinal);
    }

    [Fact]
    public void A_waiver_for_another_unit_or_another_hold_does_not_count()
    {
        Assert.Equal(HoldState.Held, Agency.At(Waiver(-8, 8, "RF-0002"), -24).State());
        var other = Agency.At(Waiver(-8, 8) with { Hold = HoldKind.CloseUp }, -24);
        Assert.Equal(HoldState.Held, other.State());
        Assert.Contains("waives the close-up hold, not this one", other.Finding("pour.agency").Reason, StringComparison.Ordinal);
    }

    [Fact]
    public void A_waiver_that_came_after_the_step_does_not_make_it_allowed()
    {
        var late = Agency.Release(-1).At(Waiver(-8, 8), 3).Poured();
        Assert.Equal((Verdict.NotMet, HoldState.PassedWithoutRelease), (late.Verdict("pour.agency"), late.State()));
        Assert.Contains("came after the step", late.Finding("pour.agency").Reason, StringComparison.Ordinal);
    }

    [Fact]
    public void A_waiver_begins_and_ends_at_its_moments_and_the_judgement_names_them()
    {
        var waived = Agency.At(Waiver(-2, -1), -24);
        Assert.Equal((HoldState.Held, Pour.AddHours(-2)), (waived.Now(-3).State(), waived.Now(-3).Judge().ValidUntil));
        Assert.Equal(HoldState.Ready, waived.Now(-2).State());
        Assert.Equal(HoldState.Ready, waived.Now(-1).State());
        Assert.Equal(HoldState.Held, waived.Now(-0.99).State());
    }

    [Fact]
    public void A_witness_point_is_opened_by_due_notice_for_that_day()
    {
        Assert.Equal(HoldState.Held, Witness.State());
        Assert.Equal(HoldState.Ready, Witness.At(Notice(), -25).State());
        Assert.Equal(HoldState.Held, Witness.At(Notice(), -23).State());
        Assert.Equal((Verdict.Met, HoldState.Released), (Witness.At(Notice(), -25).Release(-1).Poured().Verdict("pour.agency"), Witness.At(Notice(), -25).Release(-1).Poured().State()));
    }

    [Fact]
    public void Short_notice_or_notice_of_another_day_leaves_a_breach_when_the_step_is_taken()
    {
        foreach (var notice in new[] { (Notice(), -23.0), (Notice(48), -25.0), (Notice(-30), -60.0) })
        {
            var hold = Witness.At(notice.Item1, notice.Item2).Release(-1).Poured().Hold();
            Assert.Equal(HoldState.Released, hold.State);
            Assert.Contains(AlarmKind.WithoutNotice, hold.Alarms());
            Assert.True(hold.Breach);
        }
    }

    [Fact]
    public void Its_inspector_present_on_the_day_is_as_good_as_notice()
    {
        var present = Witness.At(new AgencyPresent([Unit], HoldKind.Pour), -0.5, "p-301").Release(-0.2);
        Assert.Equal((Verdict.Met, HoldState.Released), (present.Poured().Verdict("pour.agency"), present.Poured().State()));
        Assert.Equal(Verdict.NotMet, Witness.At(new AgencyPresent([Unit], HoldKind.Pour), -48, "p-301").Poured().Verdict("pour.agency"));
        Assert.Equal(Verdict.Met, Witness.At(new AgencyWitnessed(Unit, HoldKind.Pour, "placing"), 0.5, "p-301").Poured().Verdict("pour.agency"));
        Assert.Equal(Verdict.Waived, Witness.At(Waiver(-8, 8), -24).Poured().Verdict("pour.agency"));
    }

    [Fact]
    public void A_hold_without_a_rule_is_the_plant_s_own_and_without_a_profile_nobody_can_say()
    {
        Assert.Equal(Verdict.NotApplicable, BeforePour.Verdict("pour.agency"));
        Assert.Equal(Verdict.Missing, BeforePour.Without<ProfilePublished>().Verdict("pour.agency"));
    }
}
