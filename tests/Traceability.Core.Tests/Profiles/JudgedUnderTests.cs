using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;
using Traceability.Core.Tests.Judging;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Profiles;

/// <summary>What the parts of a profile beside its limits do to the judgement of a unit.</summary>
public sealed class JudgedUnderTests
{
    private static readonly Citation Invented = new("Invented special provision", SourceMark.CommonPractice);

    private static Limit Of(string key, string value, string unit, LimitRank rank = LimitRank.SpecialProvision) => new(key, R(value), unit, $"{value} {unit}", Invented, rank);

    private static UnitCase Under(Func<ProfilePublished, ProfilePublished> change) => Good.Change(change);

    [Fact]
    public void A_plans_tighter_limit_is_judged_and_printed_as_the_plans()
    {
        var findings = Under(p => p with { PlanLimits = [Of("fresh.temperature.max", "60", "F", LimitRank.PlantPlan)] }).Findings("place.temperature");

        Assert.Contains(findings, f => f.Verdict == Verdict.NotMet && f.Limit == "60 F");
        Assert.DoesNotContain(Good.Findings("place.temperature"), f => f.Verdict == Verdict.NotMet);
    }

    [Fact]
    public void By_the_contract_alone_the_plans_limits_judge_nothing()
    {
        var tighter = Under(p => p with { PlanLimits = [Of("fresh.temperature.max", "60", "F", LimitRank.PlantPlan)] });
        var only = Under(p => p with { Limits = [.. p.Limits.Where(l => l.Key != "fresh.temperature.max")], PlanLimits = [Of("fresh.temperature.max", "60", "F", LimitRank.PlantPlan)] });

        Assert.DoesNotContain(tighter.ByContract().Findings, f => f.Limit == "60 F" || f.Verdict == Verdict.NotMet);
        Assert.Contains(only.Findings("place.temperature"), f => f.Verdict == Verdict.NotMet);
        Assert.Equal(Verdict.NotApplicable, Assert.Single(only.ByContract().Findings, f => f.Requirement == "place.temperature").Verdict);
        // What is the plant's alone is not judged by the contract; everything else is judged the same.
        var plants = Rules.All.Where(r => r.PlantOnly).Select(r => r.Id).ToHashSet();
        Assert.NotEmpty(plants);
        Assert.Equal(Good.Judge().Findings.Where(f => !plants.Contains(f.Requirement)).Select(f => (f.Requirement, f.Subject, f.Verdict, f.Reason, f.Limit)),
            Good.ByContract().Findings.Select(f => (f.Requirement, f.Subject, f.Verdict, f.Reason, f.Limit)));
    }

    [Fact]
    public void A_limit_for_the_units_product_holds_and_one_for_another_does_not()
    {
        UnitCase For(string product) => Under(p => p with { Limits = [.. p.Limits, Of(LimitKeys.For("fresh.temperature.max", product), "60", "F")] });

        Assert.Contains(For("rigid-frame").Findings("place.temperature"), f => f.Verdict == Verdict.NotMet);
        Assert.DoesNotContain(For("manhole").Findings("place.temperature"), f => f.Verdict == Verdict.NotMet);
    }

    [Fact]
    public void A_lifted_requirement_and_a_lifted_limit_do_not_apply_and_cite_the_clause()
    {
        NotAsked Lifts(string what) => new(what, "deleted", Invented, LimitRank.SpecialProvision);

        var requirement = Under(p => p with { NotAsked = [Lifts("place.flow")] }).Finding("place.flow");
        Assert.Equal((Verdict.NotApplicable, Invented), (requirement.Verdict, requirement.Source));
        var limit = Under(p => p with { Limits = [.. p.Limits.Where(l => l.Key != "discharge.minutes")], NotAsked = [Lifts("discharge.minutes@rigid-frame")] });
        Assert.All(limit.Findings("place.discharge"), f => Assert.Equal(Verdict.NotApplicable, f.Verdict));
        Assert.Contains("deleted", limit.Findings("place.discharge")[0].Reason, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(null, Verdict.NotMet)]
    [InlineData("another-drawing", Verdict.Met)]
    public void A_shop_drawing_looser_than_the_contract_is_a_finding_of_its_units(string? drawing, Verdict expected)
    {
        var unit = Under(p => p with { Overruled = [new(Of("cover.reduction.soffit", "1/2", "in", LimitRank.Plan), OverruledWhy.LooserShopDrawing, drawing)] });

        var finding = unit.Finding("tying.shop-drawing-limits");
        Assert.Equal(expected, finding.Verdict);
        if (expected == Verdict.NotMet) Assert.Equal(("1/2 in", "-1/4 in at formed soffits"), (finding.Observed, finding.Limit));
        // The contract's figure still judges.
        Assert.Equal(Good.Findings("close-up.cover").Select(f => (f.Subject, f.Verdict, f.Limit)), unit.Findings("close-up.cover").Select(f => (f.Subject, f.Verdict, f.Limit)));
    }

    [Fact]
    public void A_shop_drawings_figure_for_another_product_is_no_finding() =>
        Assert.Equal(Verdict.Met, Under(p => p with { Overruled = [new(Of("cover.increase@manhole", "1/2", "in"), OverruledWhy.LooserShopDrawing)] }).Verdict("tying.shop-drawing-limits"));

    [Fact]
    public void Without_a_profile_nothing_is_known_of_the_shop_drawing() =>
        Assert.Equal(Verdict.Missing, Good.Without<ProfilePublished>().Verdict("tying.shop-drawing-limits"));
}
