using Traceability.Core.Events;
using Traceability.Core.Judging;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Judging;

/// <summary>Bars from a rack: every lot that could have been in it has to be as good as one whose tag was read.</summary>
public sealed class RackTests
{
    private static readonly LotId Other = new("mill-x", "X771");

    private static DateTimeOffset Tied => Good.RecordOf<CageTied>().OccurredAt.At;

    private static LotId First => Good.The<CageTied>().Bars[0].Lots[0];

    private static string Size => Good.The<CageTied>().Bars[0].Size;

    /// <summary>The first bar mark came from a rack that held its own heat.</summary>
    private static UnitCase Rack => Good.Change<CageTied>(c => c with { Bars = [c.Bars[0] with { Lots = [], Rack = "RACK-5" }, .. c.Bars.Skip(1)] })
        .Add(new StorageFilled("RACK-5", First, Material.Bar), Tied.AddDays(-3));

    /// <summary>The rack held another heat as well.</summary>
    private static UnitCase Mixed => Rack.Add(new StorageFilled("RACK-5", Other, Material.Bar), Tied.AddDays(-2));

    private static LotCertified Certificate(Func<LotCertified, LotCertified>? change = null)
    {
        var own = Good.Records.Select(r => r.Fact).OfType<LotCertified>().First(c => c.Lot == First) with { Lot = Other, CertificateNumber = "MTR-X771" };
        return change is null ? own : change(own);
    }

    [Fact]
    public void A_rack_of_one_certified_heat_has_nothing_open() => Assert.Empty(Rack.Judge().Hold(HoldKind.CloseUp).OpenItems.Concat(Rack.Judge().Hold(HoldKind.Tying).OpenItems));

    [Theory]
    [InlineData("tying.heats-certified")]
    [InlineData("tying.mill-values")]
    [InlineData("tying.domestic")]
    public void A_heat_that_only_may_be_in_the_cage_needs_its_certificate_too(string requirement)
    {
        Assert.Equal(Verdict.Missing, Mixed.Verdict(requirement, Other.Number));
        Assert.All(Mixed.Add(Certificate(), Tied.AddDays(-2)).Findings(requirement), f => Assert.Equal(Verdict.Met, f.Verdict));
    }

    [Fact]
    public void A_heat_of_another_size_was_not_taken_for_these_bars() =>
        Assert.DoesNotContain(Mixed.Add(new LotReceived(Other, Material.Bar, "bars", "#9"), Tied.AddDays(-2)).Findings("tying.heats-certified"), f => f.Subject.Contains(Other.Number, StringComparison.Ordinal));

    [Fact]
    public void A_foreign_or_weak_heat_that_only_may_be_in_the_cage_leaves_a_question_and_one_whose_tag_was_read_does_not()
    {
        var possible = Mixed.Add(Certificate(c => c with { MeltedIn = "CA", YieldPsi = R("50000") }), Tied.AddDays(-2));
        Assert.Equal(Verdict.CannotTell, possible.Verdict("tying.domestic", Other.Number));
        Assert.Equal(Verdict.CannotTell, possible.Verdict("tying.mill-values", $"{Other.Number} {Size} yield"));
        Assert.Contains("may be in cage", possible.Finding("tying.domestic", Other.Number).Reason, StringComparison.Ordinal);

        var certain = possible.Change<CageTied>(c => c with { Bars = [c.Bars[0] with { Lots = [Other], Rack = null }, .. c.Bars.Skip(1)] });
        Assert.Equal(Verdict.NotMet, certain.Verdict("tying.domestic", Other.Number));
        Assert.Equal(Verdict.NotMet, certain.Verdict("tying.mill-values", $"{Other.Number} {Size} yield"));
    }

    [Fact]
    public void A_rack_that_nothing_is_known_to_be_in_is_missing_everywhere()
    {
        var empty = Rack.Without<StorageFilled>();
        foreach (var requirement in new[] { "tying.heats-certified", "tying.mill-values", "tying.domestic", "tying.not-quarantined", "close-up.heats-of-size" })
            Assert.Equal(Verdict.Missing, empty.Verdict(requirement, "rack RACK-5"));
    }

    [Fact]
    public void What_was_in_the_rack_before_it_was_emptied_is_not_asked_for()
    {
        var swept = Rack.Add(new StorageFilled("RACK-5", Other, Material.Bar), Tied.AddDays(-5)).Add(new StorageEmptied("RACK-5", "swept"), Tied.AddDays(-4));
        Assert.DoesNotContain(swept.Findings("tying.heats-certified"), f => f.Subject.Contains(Other.Number, StringComparison.Ordinal));
    }

    [Fact]
    public void A_quarantined_heat_holds_until_it_is_cleared()
    {
        var quarantined = Good.Add(new LotQuarantined(First, "bend test failed"), Tied.AddDays(1));
        Assert.Equal(Verdict.NotMet, quarantined.Verdict("tying.not-quarantined", First.Number));
        Assert.Contains("bend test failed", quarantined.Finding("tying.not-quarantined", First.Number).Reason, StringComparison.Ordinal);
        Assert.Equal(Verdict.Met, quarantined.Add(new LotCleared(First, "repeat test good", "letter 12"), Tied.AddDays(2)).Verdict("tying.not-quarantined", First.Number));
        Assert.Equal(Verdict.NotMet, quarantined.Add(new LotCleared(First, "earlier matter", "letter 11"), Tied.AddHours(1)).Verdict("tying.not-quarantined", First.Number));
    }

    [Fact]
    public void A_quarantined_heat_that_only_may_be_in_the_cage_leaves_a_question() =>
        Assert.Equal(Verdict.CannotTell, Mixed.Add(Certificate(), Tied.AddDays(-2)).Add(new LotQuarantined(Other, "no statement of origin"), Tied.AddDays(1)).Verdict("tying.not-quarantined", Other.Number));

    [Fact]
    public void A_clearance_that_the_clocks_cannot_order_after_its_quarantine_clears_nothing() =>
        Assert.Equal(Verdict.NotMet, Good.Add(new LotQuarantined(First, "held"), Tied.AddDays(1)).Add(new LotCleared(First, "good", "letter 12"), Tied.AddDays(1).AddMilliseconds(10), source: "/plant/office-1").Verdict("tying.not-quarantined", First.Number));
}
