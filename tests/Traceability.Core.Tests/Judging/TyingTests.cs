using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Judging;

public sealed class TyingTests
{
    private static UnitCase Certificate(Func<LotCertified, LotCertified> change) =>
        Good.Change<LotCertified>(c => c.Size == "#5" ? change(c) : c);

    [Fact]
    public void A_good_unit_has_nothing_open_before_tying() => Assert.Empty(Good.Judge().Hold(HoldKind.Tying).OpenItems);

    [Fact]
    public void A_heat_without_certificate_is_missing_by_its_heat_number()
    {
        var judged = Good.Without<LotCertified>(c => c.Size == "#5");
        var finding = judged.Finding("tying.heats-certified", "A50932");
        Assert.Equal(Verdict.Missing, finding.Verdict);
        Assert.Contains("A50932", finding.Reason, StringComparison.Ordinal);
        Assert.Equal(Verdict.Missing, judged.Verdict("tying.mill-values", "A50932"));
        Assert.Equal(Verdict.Missing, judged.Verdict("tying.domestic", "A50932"));
    }

    [Theory]
    [InlineData("60000", Verdict.Met)]
    [InlineData("59900", Verdict.NotMet)]
    [OutsideCheck("Least yield strength of A615 Grade 60 bars", "60,000 psi", "ASTM A615/A615M, Grade 60", SourceMark.Memory)]
    public void Yield_turns_exactly_at_its_limit(string yield, Verdict expected) =>
        Assert.Equal(expected, Certificate(c => c with { YieldPsi = R(yield), TensilePsi = R("99000") }).Verdict("tying.mill-values", "#5 yield strength"));

    [Theory]
    [InlineData("80000", Verdict.Met)]
    [InlineData("79900", Verdict.NotMet)]
    [OutsideCheck("Least tensile strength of A615 Grade 60 bars from A615-20 on", "80,000 psi", "ASTM A615/A615M-20, Grade 60", SourceMark.Memory)]
    public void Tensile_strength_turns_exactly_at_its_limit(string tensile, Verdict expected) =>
        Assert.Equal(expected, Certificate(c => c with { YieldPsi = R("62000"), TensilePsi = R(tensile) }).Verdict("tying.mill-values", "#5 tensile strength"));

    [Fact]
    [OutsideCheck("Least tensile strength of A615 Grade 60 bars through A615-18", "90,000 psi", "ASTM A615/A615M-18, Grade 60", SourceMark.Memory)]
    public void The_edition_in_the_profile_decides_the_tensile_strength_asked()
    {
        var earlier = Certificate(c => c with { TensilePsi = R("85000") }).Limit("steel.a615-60.tensile-min", "90000").Limit("steel.a615-60.ratio-min", _ => null);
        Assert.Equal(Verdict.NotMet, earlier.Verdict("tying.mill-values", "#5 tensile strength"));
        Assert.Equal(Verdict.Met, Certificate(c => c with { TensilePsi = R("85000") }).Verdict("tying.mill-values", "#5 tensile strength"));
    }

    [Theory]
    [InlineData("88000", Verdict.Met)]
    [InlineData("87500", Verdict.NotMet)]
    [OutsideCheck("Least ratio of tensile to actual yield strength, A615 Grade 60", "1.10", "ASTM A615/A615M-20, Grade 60", SourceMark.Memory)]
    public void The_ratio_of_tensile_to_yield_is_asked(string tensile, Verdict expected) =>
        Assert.Equal(expected, Certificate(c => c with { YieldPsi = R("80000"), TensilePsi = R(tensile) }).Verdict("tying.mill-values", "A50932 #5 ratio"));

    [Theory]
    [InlineData("#6", "9", Verdict.Met)]
    [InlineData("#6", "8.4", Verdict.NotMet)]
    [InlineData("#7", "8.4", Verdict.Met)]
    [InlineData("#8", "7.4", Verdict.NotMet)]
    [InlineData("#9", "7.4", Verdict.Met)]
    [InlineData("#18", "6.4", Verdict.NotMet)]
    [OutsideCheck("Least elongation in 8 in by bar size, A615 Grade 60", "9 % Nos. 3-6, 8 % Nos. 7-8, 7 % Nos. 9-18", "ASTM A615/A615M, Grade 60", SourceMark.Memory)]
    public void Elongation_is_asked_by_bar_size(string size, string elongation, Verdict expected)
    {
        var judged = Good.Change<CageTied>(c => c with { Bars = [.. c.Bars.Select(b => b.BarMark == "A1" ? b with { Size = size } : b)] })
            .Change<LotCertified>(c => c.Size == "#5" ? c with { Size = size, ElongationPct = R(elongation) } : c);
        Assert.Equal(expected, judged.Verdict("tying.mill-values", $"A50932 {size} elongation"));
    }

    [Fact]
    public void A_value_the_certificate_does_not_state_is_missing()
    {
        Assert.Equal(Verdict.Missing, Certificate(c => c with { ElongationPct = null }).Verdict("tying.mill-values", "#5 elongation"));
        Assert.Equal(Verdict.Missing, Certificate(c => c with { YieldPsi = null }).Verdict("tying.mill-values", "#5 ratio"));
    }

    [Fact]
    public void A_specification_the_profile_does_not_know_is_missing_its_limits() =>
        Assert.All(Certificate(c => c with { Specification = "ASTM A996/A996M" }).Findings("tying.mill-values").Where(f => f.Subject.Contains("A50932", StringComparison.Ordinal)),
            f => Assert.Equal(Verdict.Missing, f.Verdict));

    [Fact]
    public void A_certificate_for_another_size_does_not_serve() =>
        Assert.Equal(Verdict.Missing, Certificate(c => c with { Size = "#7" }).Verdict("tying.mill-values", "A50932"));

    [Theory]
    [InlineData("US", "US", Verdict.Met)]
    [InlineData("CA", "US", Verdict.NotMet)]
    [InlineData("US", "CA", Verdict.NotMet)]
    [InlineData(null, "US", Verdict.Missing)]
    [InlineData("US", null, Verdict.Missing)]
    [OutsideCheck("Iron and steel: all manufacturing processes from the initial melting on in the United States", "melted and manufactured in the US", "Build America, Buy America Act, 70912(6)", SourceMark.Published)]
    public void Steel_of_a_federal_contract_is_domestic_by_its_certificate(string? melted, string? manufactured, Verdict expected) =>
        Assert.Equal(expected, Certificate(c => c with { MeltedIn = melted, ManufacturedIn = manufactured }).Verdict("tying.domestic", "A50932"));

    [Fact]
    public void Domestic_steel_is_not_asked_of_a_contract_without_obligation_and_missing_without_a_contract()
    {
        Assert.Equal(Verdict.NotApplicable, Good.Change<ContractOpened>(c => c with { ObligatedOn = null }).Verdict("tying.domestic"));
        Assert.Equal(Verdict.Missing, Good.Without<ContractOpened>().Verdict("tying.domestic"));
        Assert.Equal(Verdict.Missing, Good.Without<UnitScheduled>().Verdict("tying.domestic"));
    }

    [Fact]
    public void A_cage_tied_to_a_replaced_revision_is_not_met()
    {
        var drawing = Good.The<DrawingApproved>();
        var tied = Good.RecordOf<CageTied>().OccurredAt.At;
        UnitCase Replaced(int days) => Good.Add(drawing with { Revision = "C", ApprovedOn = DateOnly.FromDateTime(tied.DateTime).AddDays(days) }, tied.AddDays(-1));
        Assert.Equal(Verdict.Met, Good.Verdict("tying.drawing-current"));
        Assert.Equal(Verdict.Met, Replaced(1).Verdict("tying.drawing-current"));
        Assert.Equal(Verdict.CannotTell, Replaced(0).Verdict("tying.drawing-current"));
        Assert.Equal(Verdict.NotMet, Replaced(-1).Verdict("tying.drawing-current"));
    }

    [Fact]
    public void A_cage_tied_to_a_revision_not_scheduled_or_not_approved_does_not_pass()
    {
        Assert.Equal(Verdict.NotMet, Good.Change<CageTied>(c => c with { Revision = "A" }).Verdict("tying.drawing-current"));
        Assert.Equal(Verdict.Missing, Good.Without<DrawingApproved>().Verdict("tying.drawing-current"));
        Assert.Equal(Verdict.NotMet, Good.Change<DrawingApproved>(d => d with { ApprovedOn = d.ApprovedOn.AddDays(60) }).Verdict("tying.drawing-current"));
    }

    [Fact]
    public void An_absent_cage_is_pending_before_the_form_and_missing_after()
    {
        Assert.All(Good.Before<CageTied>().Judge().Findings.Where(f => f.Requirement is "tying.heats-certified" or "tying.mill-values" or "tying.domestic" or "tying.drawing-current"),
            f => Assert.Equal(Verdict.Pending, f.Verdict));
        Assert.All(Good.Without<CageTied>().Judge().Findings.Where(f => f.Hold == HoldKind.Tying && f.Requirement is not ("tying.shop-drawing-limits" or "tying.agency")), f => Assert.Equal(Verdict.Missing, f.Verdict));
    }

    [Fact]
    public void The_tying_hold_can_be_released_between_the_tying_and_the_setting_of_the_cage()
    {
        var asked = Good.Change<ProfilePublished>(p => p with { Releases = [.. p.Releases, HoldKind.Tying] }).Without<CageSet>();
        var tied = asked.RecordOf<CageTied>().OccurredAt.At;
        var seen = asked.RecordOf<CloseUpInspected>().OccurredAt.At;
        var cage = asked.The<CageTied>().Cage;
        UnitCase Until(UnitCase unit, DateTimeOffset at) => new([.. unit.Records.Where(r => r.OccurredAt.At < at)], at);
        var waiting = Until(asked, tied.AddMinutes(1)).Judge().Hold(HoldKind.Tying);
        Assert.Equal((HoldState.Ready, true), (waiting.State, waiting.MayBeReleased));

        UnitCase Released(UnitCase unit, DateTimeOffset at) => unit.Add(new TyingReleased(UnitCase.Unit, HoldCase.Basis), at, "p-102");
        Assert.Equal(HoldState.PassedWithoutRelease, asked.Judge().Hold(HoldKind.Tying).State);
        // Without a record of the setting the close-up inspection says that the cage is in its form.
        Assert.Equal(HoldState.Released, Released(asked, tied.AddMinutes(1)).Judge().Hold(HoldKind.Tying).State);
        Assert.Equal(HoldState.PassedWithoutRelease, Released(asked, seen.AddMinutes(1)).Judge().Hold(HoldKind.Tying).State);
        var set = asked.Add(new CageSet(UnitCase.Unit, cage, asked.The<CloseUpInspected>().Form), seen.AddMinutes(-10));
        Assert.Equal(HoldState.Released, Released(set, seen.AddMinutes(-15)).Judge().Hold(HoldKind.Tying).State);
        Assert.Equal(HoldState.PassedWithoutRelease, Released(set, seen.AddMinutes(-5)).Judge().Hold(HoldKind.Tying).State);
    }

    [Fact]
    public void Once_the_cage_is_set_the_record_of_its_tying_is_missing_and_pending_before()
    {
        var before = Good.Before<CloseUpInspected>().Without<CageSet>().Without<CageTied>();
        Assert.Equal(Verdict.Pending, before.Verdict("tying.heats-certified"));
        Assert.Equal(Verdict.Missing, before.Add(new CageSet(UnitCase.Unit, "CG-1", "F-1"), before.At.AddMinutes(-1)).Verdict("tying.heats-certified"));
    }
}
