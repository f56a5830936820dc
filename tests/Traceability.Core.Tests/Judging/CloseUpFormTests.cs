using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;
using Traceability.Core.Quantities;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Judging;

public sealed class CloseUpFormTests
{
    private static CloseUpInspected Seen => Good.The<CloseUpInspected>();

    private static DateTimeOffset At => Good.RecordOf<CloseUpInspected>().OccurredAt.At;

    private static UnitCase Depths(string drawn, string measured, string tolerance = "1/2") =>
        Good.Change<DrawingApproved>(d => d with { Bars = [d.Bars[0] with { DepthIn = R(drawn) }, .. d.Bars.Skip(1).Select(b => b with { DepthIn = null })] })
            .Change<CloseUpInspected>(c => c with { Covers = [.. c.Covers.Select(r => r with { DepthIn = R(measured) })] })
            .Limit("depth.tolerance.shallow", "3/8").Limit("depth.tolerance.deep", tolerance);

    [Theory]
    [InlineData("8 3/16", "8 11/16", Verdict.Met)]
    [InlineData("8 3/16", "8 3/4", Verdict.NotMet)]
    [InlineData("8 3/16", "7 11/16", Verdict.Met)]
    [InlineData("8 3/16", "7 5/8", Verdict.NotMet)]
    [InlineData("8", "8 3/8", Verdict.Met)]
    [InlineData("8", "8 7/16", Verdict.NotMet)]
    [OutsideCheck("Verdict on effective depth: 8 3/16 in and 8 in as drawn", "+-1/2 in and +-3/8 in", "ACI 318-19, Table 26.6.2.1", SourceMark.Memory)]
    public void Effective_depth_turns_exactly_at_its_tolerance(string drawn, string measured, Verdict expected) =>
        Assert.Equal(expected, Depths(drawn, measured).Verdict("close-up.effective-depth"));

    [Fact]
    public void Effective_depth_is_asked_by_the_profile_and_needs_a_reading()
    {
        Assert.Equal(Verdict.NotApplicable, Good.Verdict("close-up.effective-depth"));
        Assert.Equal(Verdict.Missing, Depths("8", "8").Change<CloseUpInspected>(c => c with { Covers = [.. c.Covers.Select(r => r with { DepthIn = null })] }).Verdict("close-up.effective-depth"));
        Assert.Equal(Verdict.Missing, Depths("9", "9").Limit("depth.tolerance.deep", _ => null).Verdict("close-up.effective-depth"));
        Assert.Equal(Verdict.NotApplicable, Depths("8", "8").Change<DrawingApproved>(d => d with { Bars = [.. d.Bars.Select(b => b with { DepthIn = null })] }).Verdict("close-up.effective-depth"));
        Assert.Equal(Verdict.Missing, Depths("8", "8").Without<DrawingApproved>().Verdict("close-up.effective-depth"));
        Assert.Equal(Verdict.Pending, Depths("8", "8").Before<CloseUpInspected>().Verdict("close-up.effective-depth"));
        Assert.Equal(Verdict.Missing, Good.Without<ContractOpened>().Verdict("close-up.effective-depth"));
    }

    [Fact]
    public void The_cages_record_agrees_with_the_schedule()
    {
        Assert.Equal(Verdict.Met, Good.Verdict("close-up.bars-as-tied"));
        Assert.Equal(Verdict.NotMet, Good.Change<CageTied>(c => c with { Bars = [c.Bars[0] with { Count = c.Bars[0].Count - 1 }, .. c.Bars.Skip(1)] }).Verdict("close-up.bars-as-tied"));
        Assert.Equal(Verdict.NotMet, Good.Change<CageTied>(c => c with { Bars = [c.Bars[0] with { Size = "#11" }, .. c.Bars.Skip(1)] }).Verdict("close-up.bars-as-tied"));
        Assert.Equal(Verdict.NotMet, Good.Change<CageTied>(c => c with { Bars = [.. c.Bars.Skip(1)] }).Verdict("close-up.bars-as-tied"));
        Assert.Equal(Verdict.NotMet, Good.Change<CageTied>(c => c with { Bars = [.. c.Bars, c.Bars[0] with { BarMark = "X9" }] }).Verdict("close-up.bars-as-tied"));
        Assert.Equal(Verdict.Missing, Good.Without<DrawingApproved>().Verdict("close-up.bars-as-tied"));
        Assert.Equal(Verdict.Missing, Good.Without<CageTied>().Verdict("close-up.bars-as-tied"));
    }

    [Fact]
    public void A_cage_that_was_moved_or_exchanged_after_its_inspection_is_inspected_again()
    {
        Assert.Equal(Verdict.Met, Good.Verdict("close-up.cage-undisturbed"));
        Assert.Equal(Verdict.Met, Good.Add(new CageMoved(Seen.Cage, "form hall"), At.AddHours(-1)).Verdict("close-up.cage-undisturbed"));
        Assert.Equal(Verdict.NotMet, Good.Add(new CageMoved(Seen.Cage, "bay 2"), At.AddMinutes(10)).Verdict("close-up.cage-undisturbed"));
        Assert.Equal(Verdict.NotMet, Good.Add(new CageSwapped(Unit, Seen.Cage, "CG-OTHER", "bent bar"), At.AddMinutes(10)).Verdict("close-up.cage-undisturbed"));
        Assert.Equal(Verdict.CannotTell, Good.Add(new CageMoved(Seen.Cage, "bay 2"), At.AddMilliseconds(10)).Verdict("close-up.cage-undisturbed"));
        Assert.Equal(Verdict.Missing, Good.Without<CloseUpInspected>().Verdict("close-up.cage-undisturbed"));
    }

    private static FormInspected Inspected(string setUp = "S-12", bool fit = true) => new(Seen.Form, setUp, [], fit, true, []);

    private static UnitCase Asked => Good.Limit("form.set-up-inspected", "1");

    [Fact]
    public void A_form_is_inspected_on_first_use_and_after_a_rebuild_where_the_profile_asks_it()
    {
        Assert.Equal(Verdict.NotApplicable, Good.Verdict("close-up.form-set-up"));
        Assert.Equal(Verdict.NotApplicable, Good.Limit("form.set-up-inspected", "0").Verdict("close-up.form-set-up"));
        Assert.Equal(Verdict.Missing, Asked.Verdict("close-up.form-set-up"));
        Assert.Equal(Verdict.Met, Asked.Add(Inspected(), At.AddDays(-9)).Verdict("close-up.form-set-up"));
        Assert.Equal(Verdict.NotMet, Asked.Add(Inspected(fit: false), At.AddDays(-9)).Verdict("close-up.form-set-up"));
        Assert.Equal(Verdict.Missing, Asked.Add(Inspected(), At.AddHours(1)).Verdict("close-up.form-set-up"));
        Assert.Equal(Verdict.NotMet, Asked.Add(Inspected(), At.AddDays(-9)).Add(new FormRebuilt(Seen.Form, "S-14", "two segments more"), At.AddDays(-2)).Verdict("close-up.form-set-up"));
        Assert.Equal(Verdict.Met, Asked.Add(new FormRebuilt(Seen.Form, "S-12", "taken apart"), At.AddDays(-10)).Add(Inspected(), At.AddDays(-9)).Verdict("close-up.form-set-up"));
        Assert.Equal(Verdict.Met, Asked.Add(Inspected(), At.AddDays(-9)).Add(new FormRebuilt(Seen.Form, "S-14", "for the next unit"), At.AddDays(2)).Verdict("close-up.form-set-up"));
        Assert.Equal(Verdict.NotMet, Asked.Add(Inspected(), At.AddDays(-9)).Add(new FormClosed(Unit, Seen.Form, "S-14"), At.AddHours(1)).Verdict("close-up.form-set-up"));
        Assert.Equal(Verdict.Missing, Asked.Without<CloseUpInspected>().Verdict("close-up.form-set-up"));
    }

    [Fact]
    public void The_form_that_counts_is_the_one_the_inspector_saw() =>
        Assert.Equal(Verdict.Missing, Asked.Add(Inspected() with { Form = "F-ELSE" }, At.AddDays(-9)).Verdict("close-up.form-set-up"));
}
