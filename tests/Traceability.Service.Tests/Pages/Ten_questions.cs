using Microsoft.Extensions.Configuration;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Service.Assembling;
using Traceability.Service.Board;
using Traceability.Service.Pages;
using Fact = Xunit.FactAttribute;

namespace Traceability.Service.Tests.Pages;

/// <summary>The board answers the ten questions of a working day from unit rows and the facts outside of units.</summary>
public sealed class Ten_questions
{
    // A Wednesday, 14:00 in the plant.
    private static readonly DateTimeOffset Now = new(2026, 3, 4, 14, 0, 0, TimeSpan.FromHours(-5));

    private sealed class Still : TimeProvider
    {
        public override DateTimeOffset GetUtcNow() => Now.ToUniversalTime();
    }

    private static Question Ask(int number, IReadOnlyList<UnitRow>? units = null, IReadOnlyList<RackLot>? rack = null, IReadOnlyList<Validity>? validities = null)
    {
        var plant = new PlantSettings(new ConfigurationBuilder().AddInMemoryCollection([new("Plant:TimeZone", "America/New_York")]).Build(), new Still());
        var all = TenQuestions.Answer(new(units ?? [], rack ?? [], validities ?? [], plant.Now, plant));
        Assert.Equal(Enumerable.Range(1, 10), all.Select(q => q.Number));
        return all[number - 1];
    }

    private static UnitRow Unit(string serial, UnitPhase phase, params OpenRow[] open) => new()
    {
        Id = serial,
        Mark = "RF24",
        Form = "F-1",
        PourOn = DateOnly.FromDateTime(Now.Date),
        Phase = phase,
        Priority = 1,
        Holds = [.. Enum.GetValues<HoldKind>().Select(k => new HoldRow(k, open.Any(o => o.Hold == k) ? HoldState.Held : HoldState.Ready, open.Count(o => o.Hold == k), true, false))],
        OpenItems = [.. open.Select(o => new OpenItem(o.Requirement, o.Subject, o.Verdict, o.Reason, o.Clear))],
        Open = open,
        Cylinders = [],
        PouredAt = phase >= UnitPhase.Poured ? Now.AddHours(-2) : null,
        Place = phase == UnitPhase.Stripped ? "yard, row 2" : "form F-1",
        JudgementHash = "",
        RulesVersion = "",
        Position = 1,
        JudgedAt = Now,
    };

    private static OpenRow Open(HoldKind hold, string requirement, string subject, Verdict verdict, string? sample = null) =>
        new(hold, requirement, "Title of " + requirement, subject, verdict, "Reason of " + requirement, "Cleared by somebody", "", "", sample);

    private static CylinderRow Cylinder(string mark, CylinderPurpose purpose, double daysAgo, bool broken = false) =>
        new("SM-1", mark, purpose, Now.AddDays(-daysAgo), broken) { DueAt = purpose == CylinderPurpose.Acceptance ? Now.AddDays(28 - daysAgo) : null, WindowHours = 20 };

    [Fact]
    public void Units_to_be_poured_come_with_what_blocks_them_and_who_can_clear_it()
    {
        var question = Ask(1, [Unit("U-2", UnitPhase.Tied, Open(HoldKind.Tying, "tying.heats-certified", "lot:m/1", Verdict.Missing)), Unit("U-1", UnitPhase.Inspected), Unit("U-3", UnitPhase.Poured),
            Unit("U-4", UnitPhase.Scheduled) with { PourOn = DateOnly.FromDateTime(Now.Date).AddDays(2) }]);
        Assert.Equal(["U-1", "U-2"], question.Lines.Select(l => l.Name));
        var reason = Assert.Single(question.Lines[1].Reasons);
        Assert.Equal(("Reason of tying.heats-certified", "Cleared by somebody"), (reason.Text, reason.Clear));
        Assert.Contains("today", question.Lines[0].Text, StringComparison.Ordinal);
    }

    [Fact]
    public void A_poured_unit_without_any_cylinder_is_named_before_the_crew_leaves()
    {
        var sampled = Unit("U-2", UnitPhase.Poured) with { Cylinders = [Cylinder("ST1", CylinderPurpose.Strip, 0.1)] };
        var line = Assert.Single(Ask(3, [Unit("U-1", UnitPhase.Poured), sampled]).Lines);
        Assert.Equal("U-1", line.Name);
        Assert.Equal(Urgency.Act, line.Mark.Urgency);
    }

    [Fact]
    public void A_low_break_names_every_unit_its_sample_represents_and_where_each_is()
    {
        var low = Open(HoldKind.Strip, "strip.strength", "sample:SM-1", Verdict.NotMet, "SM-1");
        var line = Assert.Single(Ask(4, [Unit("U-1", UnitPhase.Stripped, low) with { Reached = ["sample:SM-1"] }, Unit("U-2", UnitPhase.Poured) with { Reached = ["sample:SM-1"] }, Unit("U-3", UnitPhase.Poured)]).Lines);
        Assert.Equal([new UnitAt("U-1", "yard, row 2"), new UnitAt("U-2", "form F-1")], line.Units);
    }

    [Fact]
    public void A_pending_break_is_not_a_low_break() =>
        Assert.Empty(Ask(4, [Unit("U-1", UnitPhase.Poured, Open(HoldKind.Strip, "strip.strength", "sample:SM-1", Verdict.Pending, "SM-1"))]).Lines);

    [Fact]
    public void Heats_without_papers_are_named_once_those_in_cages_first()
    {
        var question = Ask(5, [Unit("U-1", UnitPhase.Tied, Open(HoldKind.Tying, "tying.heats-certified", "lot:m/1", Verdict.Missing))],
            [new("lot:m/1", "bar", Now, false, false), new("lot:m/2", "bar", Now, false, false), new("lot:m/3", "bar", Now, true, false), new("lot:m/4", "bar", Now, true, true)]);
        Assert.Equal(["Heat m/1", "Heat m/2", "Heat m/3"], question.Lines.Select(l => l.Name));
        Assert.Equal("already in a cage", question.Lines[0].Text);
        Assert.Equal(Urgency.Watch, question.Lines[2].Mark.Urgency);
    }

    [Theory]
    [InlineData(25.0, null)]
    [InlineData(26.5, "due soon")]
    [InlineData(27.5, "break now")]
    [InlineData(28.8, "break now")]
    [InlineData(28.9, "window missed")]
    public void Acceptance_cylinders_are_due_inside_their_window_of_20_hours_either_way(double daysAgo, string? says)
    {
        var unit = Unit("U-1", UnitPhase.Stripped) with
        {
            Cylinders = [Cylinder("AC1", CylinderPurpose.Acceptance, daysAgo), Cylinder("AC2", CylinderPurpose.Acceptance, daysAgo, broken: true), Cylinder("SP1", CylinderPurpose.Spare, daysAgo)],
        };
        var lines = Ask(6, [unit]).Lines;
        Assert.Equal(says, lines.SingleOrDefault()?.Mark.Word);
        if (says is not null) Assert.Contains("1 cylinder for acceptance, 1 spare left", lines[0].Text, StringComparison.Ordinal);
    }

    [Fact]
    public void What_lapses_within_thirty_days_names_the_units_in_the_plant_that_rest_on_it()
    {
        var today = DateOnly.FromDateTime(Now.Date);
        var resting = Unit("U-1", UnitPhase.Stripped) with { Reached = ["instrument:CM-1"] };
        var shipped = Unit("U-2", UnitPhase.Shipped) with { Reached = ["instrument:CM-1"] };
        var question = Ask(10, [resting, shipped],
            validities: [new("instrument:CM-1", "calibration", today.AddDays(29)), new("person:p-1", "certificate", today.AddDays(-1)), new("mix:M", "approval", today.AddDays(30))]);
        Assert.Equal(["p-1", "CM-1"], question.Lines.Select(l => l.Name));
        Assert.Equal("U-1", Assert.Single(question.Lines[1].Units).Serial);
        Assert.Equal("lapsed", question.Lines[0].Mark.Word);
    }

    [Fact]
    public void Nonconformances_come_oldest_first_with_whose_answer_is_awaited_and_every_unit()
    {
        NonconformanceState State(string id, double daysAgo, Awaited awaited, bool early = false) => new(id, Now.AddDays(-daysAgo), NonconformanceClass.Major, true, "spall", DispositionKind.Repair, awaited, early);
        var question = Ask(9, [Unit("U-1", UnitPhase.Stripped) with { Nonconformances = [State("NC-2", 3, Awaited.Closing)] },
            Unit("U-2", UnitPhase.Stripped) with { Nonconformances = [State("NC-2", 3, Awaited.Repair), State("NC-1", 9, Awaited.Letter, early: true)] }]);
        Assert.Equal([("NC-1", "repaired too early"), ("NC-2", "to be repaired")], question.Lines.Select(l => (l.Name, l.Mark.Word)));
        Assert.Equal(["U-1", "U-2"], question.Lines[1].Units.Select(u => u.Serial));
        Assert.Equal("major, structural, 9 days old", question.Lines[0].Text);
        Assert.Contains(question.Lines[0].Reasons, r => r.Text.Contains("before it was approved", StringComparison.Ordinal));
    }

    [Fact]
    public void Alarms_of_a_unit_stand_before_its_open_items()
    {
        var unit = Unit("U-1", UnitPhase.Stripped, Open(HoldKind.Ship, "ship.strength", "sample:S", Verdict.Pending)) with
        {
            Alarms = [new(HoldKind.Pour, AlarmKind.PassedWithoutRelease, "The step after the pour hold was taken without a release."), new(HoldKind.Ship, AlarmKind.Expired, "The release has ended: it rained.")],
        };
        var reasons = Assert.Single(Ask(8, [unit]).Lines).Reasons;
        Assert.Equal(["breach", "release expired", "pending"], reasons.Select(r => r.Mark.Word));
    }

    [Fact]
    public void What_left_without_a_release_stays_under_the_trucks_and_what_was_rejected_is_not_loaded()
    {
        var left = Unit("U-2", UnitPhase.Delivered) with { Alarms = [new(HoldKind.Ship, AlarmKind.PassedWithoutRelease, "Shipped without a release.")] };
        var lines = Ask(8, [left, Unit("U-1", UnitPhase.InYard), Unit("U-3", UnitPhase.Rejected), Unit("U-4", UnitPhase.Loaded), Unit("U-5", UnitPhase.Shipped)]).Lines;
        Assert.Equal(["U-4", "U-1", "U-2"], lines.Select(l => l.Name));
    }

    [Fact]
    public void A_release_that_ends_within_the_day_is_about_to_lapse()
    {
        var unit = Unit("U-1", UnitPhase.Inspected);
        var released = unit with { Holds = [.. unit.Holds.Select(h => h.Kind == HoldKind.Pour ? h with { State = HoldState.Released, ValidUntil = Now.AddHours(3) } : h)] };
        Assert.Equal(("U-1", "lapses"), (Assert.Single(Ask(10, [released]).Lines).Name, Ask(10, [released]).Lines[0].Mark.Word));
        Assert.Empty(Ask(10, [released with { Holds = [.. released.Holds.Select(h => h with { ValidUntil = Now.AddDays(2) })] }]).Lines);
    }
}
