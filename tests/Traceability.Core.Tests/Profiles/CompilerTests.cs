using System.Text.Json;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.PlantSimulator.Story;
using static Traceability.Core.Tests.Profiles.Authored;

namespace Traceability.Core.Tests.Profiles;

public sealed class CompilerTests
{
    private static ProfilePublished Good(string yaml, params string[] parents)
    {
        var compiled = Compile(yaml, parents);
        Assert.Empty(compiled.Errors);
        return compiled.Profile!;
    }

    private static string? Figure(ProfilePublished profile, string key) => profile.Limits.SingleOrDefault(l => l.Key == key)?.Value.Text;

    [Fact]
    public void A_child_keeps_what_it_does_not_state()
    {
        var child = Good(Child + "limits:\n" + Limit("discharge.minutes", "60", "min"));

        Assert.Equal(("60", "1/2"), (Figure(child, "discharge.minutes"), Figure(child, "cover.increase")));
        Assert.Equal((RoundingRule.HalfUp, "Invented root", "root@1"), (child.Rounding, child.Title, child.Inherits));
        Assert.Equal([HoldKind.Pour, HoldKind.Ship], child.Releases);
    }

    [Fact]
    public void Of_several_statements_the_strongest_document_wins_and_the_rest_are_kept()
    {
        var child = Good(Child + "limits:\n" + string.Join('\n', Limit("discharge.minutes", "60", "min", "standardSpecification"), Limit("discharge.minutes", "75", "min", "specialProvision")));

        Assert.Equal("75", Figure(child, "discharge.minutes"));
        Assert.Equal([("60", OverruledWhy.Precedence), ("90", OverruledWhy.Precedence)],
            child.Overruled!.Select(o => (o.Stated.Value.Text, o.Why)).Order());
    }

    [Fact]
    public void A_weaker_document_of_a_nearer_file_does_not_win()
    {
        var parent = "profile: parent\nversion: 1\ninherits: root@1\nlimits:\n" + Limit("discharge.minutes", "75", "min", "specialProvision");
        var child = Good("profile: child\nversion: 1\ninherits: parent@1\nlimits:\n" + Limit("discharge.minutes", "120", "min", "standardSpecification"), parent);

        Assert.Equal("75", Figure(child, "discharge.minutes"));
    }

    [Theory]
    [InlineData(null, "75")]
    [InlineData("[supplementalSpecification, specialProvision, plan, standardDrawing, standardSpecification, productStandard, generalStandard]", "60")]
    public void The_order_of_documents_is_the_agencys(string? order, string expected) =>
        Assert.Equal(expected, Figure(Good(Child + (order is null ? "" : $"precedence: {order}\n") + "limits:\n"
            + string.Join('\n', Limit("discharge.minutes", "60", "min", "supplementalSpecification"), Limit("discharge.minutes", "75", "min", "specialProvision"))), "discharge.minutes"));

    [Fact]
    public void A_looser_shop_drawing_is_a_finding_and_a_tighter_one_the_limit()
    {
        var child = Good(Child + "limits:\n" + string.Join('\n',
            Limit("cover.increase", "3/4", "in", "shopDrawing", ", drawing: SD-12"), Limit("discharge.minutes", "45", "min", "shopDrawing")));

        Assert.Equal(("1/2", "45"), (Figure(child, "cover.increase"), Figure(child, "discharge.minutes")));
        var looser = Assert.Single(child.Overruled!);
        Assert.Equal((OverruledWhy.LooserShopDrawing, "3/4", "SD-12"), (looser.Why, looser.Stated.Value.Text, looser.Drawing));
    }

    [Fact]
    public void A_plan_that_tightens_stands_beside_the_contracts_limit()
    {
        var child = Good(Child + "rank: plantPlan\nlimits:\n" + Limit("discharge.minutes", "75", "min", "plantPlan"));

        Assert.Equal("90", Figure(child, "discharge.minutes"));
        Assert.Equal("75", Assert.Single(child.PlanLimits!).Value.Text);
    }

    [Theory]
    [InlineData("discharge.minutes", "91", "min")]
    [InlineData("cover.increase", "9/16", "in")]
    [InlineData("fresh.temperature.min", "45", "F")]
    [InlineData("sampling.volume", "200", "yd3")]
    [InlineData("fresh.air.tolerance", "2", "pct")]
    [InlineData("fresh.air.tolerance", "1.6", "pct")]
    [InlineData("acceptance.age", "56", "days")]
    [InlineData("discharge.minutes", "none", "min")]
    public void A_plan_that_loosens_is_refused_with_its_line(string key, string value, string unit)
    {
        var error = Error(Child + "rank: plantPlan\nlimits:\n" + Limit(key, value, unit, "plantPlan"));

        Assert.Equal(("child.yaml", 6), (error.File, error.Line));
        Assert.Contains(key, error.Reason, StringComparison.Ordinal);
        Assert.NotEmpty(error.Remedy);
    }

    [Fact]
    public void A_plan_overtaken_by_a_later_contract_does_not_refuse_the_contract()
    {
        var parent = "profile: plan\nversion: 1\ninherits: root@1\nrank: plantPlan\nlimits:\n" + Limit("discharge.minutes", "75", "min", "plantPlan");
        var child = Good("profile: child\nversion: 1\ninherits: plan@1\nlimits:\n" + Limit("discharge.minutes", "60", "min", "specialProvision"), parent);

        Assert.Equal("60", Figure(child, "discharge.minutes"));
        Assert.Null(child.PlanLimits);
        Assert.Contains(child.Overruled!, o => o.Why == OverruledWhy.PlanOvertaken);
    }

    [Theory]
    [InlineData("rounding: halfEven\n", "rounds otherwise")]
    [InlineData("releases: [pour]\n", "leaves out the release of Ship")]
    [InlineData("precedence: [specialProvision, plan, supplementalSpecification, standardDrawing, standardSpecification, productStandard, generalStandard]\n", "cannot order")]
    public void A_plan_changes_nothing_else_of_the_contract(string line, string reason) =>
        Assert.Contains(reason, Error(Child + "rank: plantPlan\n" + line).Reason, StringComparison.Ordinal);

    private const string Witnessed = "profile: parent\nversion: 1\ninherits: root@1\nholds:\n  - { hold: pour, authority: agencyWitness, validHours: \"24\", expiresOn: [rain], noticeHours: \"48\", source: d }\n";

    private static string PlanOfParent(string rule) => "profile: child\nversion: 1\ninherits: parent@1\nrank: plantPlan\nholds:\n  - " + rule + "\n";

    [Fact]
    public void The_rule_of_a_hold_is_the_nearest_files_and_a_plan_may_shorten_it()
    {
        var child = Good("profile: child\nversion: 1\ninherits: parent@1\nholds:\n  - { hold: pour, authority: plant, source: d }\n  - { hold: ship, authority: agencyHold, releasedBy: quality-engineer, source: d }\n", Witnessed);
        Assert.Equal([(HoldKind.Pour, HoldAuthority.Plant), (HoldKind.Ship, HoldAuthority.AgencyHold)], child.Holds!.Select(h => (h.Hold, h.Authority)));

        var plan = Good(PlanOfParent("{ hold: pour, authority: agencyWitness, validHours: \"12\", expiresOn: [rain, cageMoved], noticeHours: \"48\", source: d }"), Witnessed);
        Assert.Equal("12", Assert.Single(plan.Holds!).ValidHours!.Value.Text);
    }

    [Theory]
    [InlineData("{ hold: pour, authority: plant, validHours: \"24\", expiresOn: [rain], noticeHours: \"48\", source: d }")]
    [InlineData("{ hold: pour, authority: agencyWitness, validHours: \"36\", expiresOn: [rain], noticeHours: \"48\", source: d }")]
    [InlineData("{ hold: pour, authority: agencyWitness, expiresOn: [rain], noticeHours: \"48\", source: d }")]
    [InlineData("{ hold: pour, authority: agencyWitness, validHours: \"24\", noticeHours: \"48\", source: d }")]
    [InlineData("{ hold: pour, authority: agencyWitness, validHours: \"24\", expiresOn: [rain], noticeHours: \"24\", source: d }")]
    public void A_plan_that_loosens_the_rule_of_a_hold_is_refused(string rule)
    {
        var error = Error(PlanOfParent(rule), Witnessed);

        Assert.Equal(6, error.Line);
        Assert.Contains("loosens the rule of the Pour hold", error.Reason, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("{ hold: pour, authority: nobody, source: d }", "is no authority")]
    [InlineData("{ hold: pour, authority: plant, validHours: \"0\", source: d }", "not a number of hours")]
    [InlineData("{ hold: pour, authority: plant, releasedBy: yard, source: d }", "releases no hold")]
    [InlineData("{ hold: pour, authority: plant }", "has no 'source'")]
    public void A_mistake_in_the_rule_of_a_hold_is_named_with_its_line(string rule, string reason)
    {
        var error = Error(Child + "holds:\n  - " + rule + "\n");

        Assert.Equal(5, error.Line);
        Assert.Contains(reason, error.Reason, StringComparison.Ordinal);
    }

    [Fact]
    public void A_hold_has_one_rule_in_a_file() =>
        Assert.Contains("has a rule already", Error(Child + "holds:\n  - { hold: pour, authority: plant, source: d }\n  - { hold: pour, authority: agencyHold, source: d }\n").Reason, StringComparison.Ordinal);

    [Fact]
    public void A_plan_may_compare_as_observed() =>
        Assert.Equal(RoundingRule.Absolute, Good(Child + "rank: plantPlan\nrounding: absolute\n").Rounding);

    [Fact]
    public void A_limit_for_one_product_stands_beside_the_general_one()
    {
        var child = Good(Child + "limits:\n" + Limit("cover.increase", "3/8", "in", more: ", products: [box-culvert, barrier]"));

        Assert.Equal(("1/2", "3/8", "3/8"), (Figure(child, "cover.increase"), Figure(child, "cover.increase@box-culvert"), Figure(child, "cover.increase@barrier")));
        Assert.Null(Figure(child, "cover.increase@manhole"));
    }

    [Fact]
    public void A_special_provision_for_all_products_outweighs_a_standard_for_one()
    {
        var child = Good(Child + "limits:\n" + string.Join('\n', Limit("cover.increase", "3/8", "in", "productStandard", ", products: [box-culvert]"), Limit("cover.increase", "1/4", "in", "specialProvision")));

        Assert.Equal("1/4", Figure(child, "cover.increase"));
        Assert.Null(Figure(child, "cover.increase@box-culvert"));
    }

    [Fact]
    public void An_edition_decides_which_statement_holds()
    {
        var parent = "profile: parent\nversion: 1\ninherits: root@1\neditions: { discharge-time: kept }\nlimits:\n" + string.Join('\n',
            Limit("discharge.minutes", "90", "min", "standardSpecification", ", when: { discharge-time: kept }"),
            Limit("discharge.minutes", "none", "min", "standardSpecification", ", when: { discharge-time: producer }"));
        Assert.Equal("90", Figure(Good("profile: a\nversion: 1\ninherits: parent@1\n", parent), "discharge.minutes"));

        var producer = Good("profile: a\nversion: 1\ninherits: parent@1\neditions: { discharge-time: producer }\n", parent);

        Assert.Null(Figure(producer, "discharge.minutes"));
        Assert.Equal("discharge.minutes", Assert.Single(producer.NotAsked!).What);
        Assert.Equal(new EditionChoice("discharge-time", "producer"), Assert.Single(producer.Editions!));
    }

    [Theory]
    [InlineData("limits:\n  - { key: discharge.minuets, value: \"60\", unit: min }", 5, "not a limit that any requirement asks for")]
    [InlineData("notAsked:\n  - { requirement: place.flown, printed: p, rank: plan, source: { document: d, mark: memory } }", 5, "not a requirement")]
    [InlineData("rounding: halfDown", 4, "is no rounding rule")]
    [InlineData("roundnig: halfUp", 4, "has no 'roundnig'")]
    [InlineData("editions: { astm-c94: \"22\" }", 4, "must be one of before-21a, 21a")]
    [InlineData("releases: [pours]", 4, "is no hold")]
    [InlineData("precedence: [specialProvision, plan]", 4, "must name each rank")]
    public void A_mistake_in_a_file_is_named_with_its_line(string text, int line, string reason)
    {
        var error = Error(Child + text + "\n");

        Assert.Equal(line, error.Line);
        Assert.Contains(reason, error.Reason, StringComparison.Ordinal);
        Assert.NotEmpty(error.Remedy);
    }

    [Theory]
    [InlineData("unit: h", "is stated in min, not in 'h'")]
    [InlineData("value: \"ninety\"", "not a figure")]
    [InlineData("value: \"-1\"", "not a figure")]
    [InlineData("value: \"89.5\"", "cannot be rounded to")]
    [InlineData("rank: strongest", "is no rank")]
    [InlineData("products: [bridge]", "not a kind of product")]
    [InlineData("drawing: SD-1", "Only a statement of an approved shop drawing")]
    [InlineData("confirmedPage: \"12\"", "names the person")]
    [InlineData("confirmedBy: p-1\n    confirmedOn: yesterday", "not a day")]
    [InlineData("source: { mark: memory }", "names no document")]
    [InlineData("source: { document: d }", "how sure the figure is")]
    [InlineData("source: { document: d, mark: certain }", "is no mark")]
    public void A_mistake_in_a_limit_is_named_with_its_line(string member, string reason)
    {
        var members = new Dictionary<string, string>
        {
            ["value"] = "value: \"90\"",
            ["unit"] = "unit: min",
            ["printed"] = "printed: p",
            ["rank"] = "rank: plan",
            ["source"] = "source: { document: d, mark: memory }",
        };
        members[member.Split(':')[0]] = member;

        var error = Error(Child + "limits:\n  - key: discharge.minutes\n    " + string.Join("\n    ", members.Values) + "\n");

        Assert.InRange(error.Line, 6, 12);
        Assert.Contains(reason, error.Reason, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("value")]
    [InlineData("unit")]
    [InlineData("printed")]
    [InlineData("rank")]
    [InlineData("source")]
    public void A_limit_without_a_member_is_refused(string missing)
    {
        string[] members = ["value: \"90\"", "unit: min", "printed: p", "rank: plan", "source: { document: d, mark: memory }"];

        var error = Error(Child + "limits:\n  - { key: discharge.minutes, " + string.Join(", ", members.Where(m => !m.StartsWith(missing, StringComparison.Ordinal))) + " }\n");

        Assert.Equal(5, error.Line);
        Assert.Contains(missing, error.Reason, StringComparison.Ordinal);
    }

    [Fact]
    public void A_limit_stated_twice_names_both_lines()
    {
        var error = Error(Child + "limits:\n" + string.Join('\n', Limit("discharge.minutes", "60", "min"), Limit("cover.increase", "1/4", "in"), Limit("discharge.minutes", "45", "min")));

        Assert.Equal(7, error.Line);
        Assert.Contains("line 5", error.Reason, StringComparison.Ordinal);
    }

    [Fact]
    public void An_unknown_parent_and_a_circle_of_parents_are_refused()
    {
        Assert.Contains("not among the profiles", Error("profile: child\nversion: 1\ninherits: nobody@3\n").Reason, StringComparison.Ordinal);
        Assert.Contains("child@1 inherits other@1 inherits child@1", Error("profile: child\nversion: 1\ninherits: other@1\n", "profile: other\nversion: 1\ninherits: child@1\n").Reason, StringComparison.Ordinal);
    }

    [Fact]
    public void What_is_not_yaml_is_named_with_its_line()
    {
        var error = Error("profile: a\nversion: \"1\n");

        Assert.InRange(error.Line, 2, 3);
        Assert.Contains("not YAML", error.Reason, StringComparison.Ordinal);
    }

    [Fact]
    public void Every_mistake_of_a_file_is_named_at_once()
    {
        var compiled = Compile(Child + "limits:\n" + string.Join('\n', Limit("discharge.minutes", "60", "h"), Limit("nothing.known", "60", "min"), Limit("cover.increase", "x", "in")));

        Assert.Equal([5, 6, 7], compiled.Errors.Select(e => e.Line));
    }

    [Fact]
    public void The_first_profile_is_published_as_it_always_was()
    {
        var baseline = ProfileFile.Baseline();

        Assert.Null(baseline.Inherits ?? (object?)baseline.Precedence ?? baseline.Editions ?? baseline.PlanLimits ?? (object?)baseline.NotAsked ?? baseline.Overruled);
        Assert.Equal(("rigid-frame-baseline", 1, RoundingRule.HalfEven), (baseline.Profile, baseline.Version, baseline.Rounding));
        Assert.DoesNotContain("@", JsonSerializer.Serialize(baseline, FactJson.Options), StringComparison.Ordinal);
    }

    public static TheoryData<string> Shipped => [.. ProfileFile.AllShipped.Select(d => d.Name).Order(StringComparer.Ordinal)];

    [Theory, MemberData(nameof(Shipped))]
    public void Every_file_that_the_core_carries_compiles(string name) => Assert.NotEmpty(ProfileFile.Shipped(name).Limits);
}
