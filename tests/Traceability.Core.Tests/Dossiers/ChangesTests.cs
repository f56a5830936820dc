using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Tests.Dossiers;

/// <summary>Corrections, withdrawals and conflicts, one rule at a time, on one oiled form.</summary>
public class ChangesTests
{
    private static readonly DateTimeOffset s_at = new(2026, 3, 2, 9, 0, 0, TimeSpan.FromHours(-5));

    private static readonly CloudEvent s_oiled = Pool.Send("/plant/form-1", "1", new FormOiled("F-3", "U-1", "A"), s_at, "p-105");

    private static CloudEvent Correct(int version, string unit, string agent, string id, Guid? record = null) => Pool.Send("/plant/office", id,
        new RecordCorrected(record ?? s_oiled.RecordId, version, "form.oiled.v1", FactCatalog.Write(new FormOiled("F-3", unit, agent)), "mistyped"), s_at.AddHours(1));

    private static CloudEvent Withdraw(Guid record, int version, string id) => Pool.Send("/plant/office", id, new RecordWithdrawn(record, version, "entered twice"), s_at.AddHours(2));

    private static UnitFile Unit(string unit, params CloudEvent[] sent) => Assemble.Unit(Pool.Store(sent).Gather(Subject.Unit(unit)));

    private static string? Agent(UnitFile file) => file.Of<FormOiled>().SingleOrDefault()?.Fact.ReleaseAgent;

    private static IEnumerable<SetAsideKind> Kinds(UnitFile file) => file.SetAside.Select(s => s.Kind).Distinct();

    [Fact]
    public void A_chain_of_corrections_counts_by_its_newest_and_keeps_who_and_when()
    {
        var file = Unit("U-1", s_oiled, Correct(2, "U-1", "C", "k2"), Correct(1, "U-1", "B", "k1"));

        Assert.Equal("C", Agent(file));
        Assert.Equal(("p-105", s_at, 3), (file.Entries[0].Person, file.Entries[0].At.At, file.Entries[0].Version));
        Assert.Equal([SetAsideKind.Replaced], Kinds(file));
        Assert.Equal(2, file.SetAside.Count);
    }

    [Fact]
    public void A_fact_moved_to_another_unit_counts_there_and_shows_here()
    {
        var moved = Correct(1, "U-2", "B", "k1");

        Assert.Null(Agent(Unit("U-1", s_oiled, moved)));
        Assert.Equal([SetAsideKind.Replaced], Kinds(Unit("U-1", s_oiled, moved)));
        Assert.Equal("B", Agent(Unit("U-2", s_oiled, moved)));
        Assert.Equal([SetAsideKind.Replaced], Kinds(Unit("U-2", s_oiled, moved)));
    }

    [Fact]
    public void Two_corrections_of_one_version_let_neither_count_until_one_is_withdrawn()
    {
        var (one, two) = (Correct(1, "U-1", "B", "k1"), Correct(1, "U-1", "C", "k2"));

        Assert.Null(Agent(Unit("U-1", s_oiled, one, two)));
        Assert.Equal([SetAsideKind.Conflict], Kinds(Unit("U-1", s_oiled, one, two)));
        Assert.Equal("B", Agent(Unit("U-1", s_oiled, one, two, Withdraw(two.RecordId, 1, "w"))));
    }

    [Fact]
    public void A_withdrawal_that_was_withdrawn_is_as_if_never_made()
    {
        var withdrawal = Withdraw(s_oiled.RecordId, 1, "w1");

        Assert.Equal([SetAsideKind.Withdrawn], Kinds(Unit("U-1", s_oiled, withdrawal)));
        Assert.Equal("A", Agent(Unit("U-1", s_oiled, withdrawal, Withdraw(withdrawal.RecordId, 1, "w2"))));
    }

    [Fact]
    public void A_change_of_a_version_that_is_not_here_holds_the_record_back()
    {
        Assert.Null(Agent(Unit("U-1", s_oiled, Correct(2, "U-1", "B", "k2"))));
        Assert.Equal([SetAsideKind.Conflict], Kinds(Unit("U-1", s_oiled, Withdraw(s_oiled.RecordId, 1, "w"), Correct(2, "U-1", "B", "k2"))));
    }

    [Fact]
    public void A_correction_whose_record_has_not_come_waits_in_sight()
    {
        var file = Unit("U-1", Correct(1, "U-1", "B", "k1"));

        Assert.Empty(file.Entries);
        Assert.Equal([SetAsideKind.Waiting], Kinds(file));
    }

    [Fact]
    public void A_correction_of_a_correction_does_not_count()
    {
        var one = Correct(1, "U-1", "B", "k1");
        var file = Unit("U-1", s_oiled, one, Correct(1, "U-1", "C", "k2", one.RecordId));

        Assert.Equal("B", Agent(file));
        Assert.Contains(SetAsideKind.Conflict, Kinds(file));
    }

    [Fact]
    public void Two_contents_under_one_id_are_found_from_both_sides_and_settled_by_withdrawing_the_id()
    {
        var other = Pool.Send("/plant/form-1", "1", new FormOiled("F-3", "U-2", "A"), s_at, "p-105");
        var withdrawal = Withdraw(s_oiled.RecordId, 1, "w");

        foreach (var unit in new[] { "U-1", "U-2" })
        {
            Assert.Equal([SetAsideKind.Conflict], Kinds(Unit(unit, s_oiled, other)));
            Assert.Equal(2, Unit(unit, other, s_oiled).SetAside.Count);
            Assert.Equal([SetAsideKind.Withdrawn], Kinds(Unit(unit, other, withdrawal, s_oiled)));
        }
    }

    [Fact]
    public void A_ring_of_withdrawals_ends()
    {
        // Ids can be computed beforehand, so two withdrawals can name each other.
        var (a, b) = (RecordId.Of("/plant/office", "a"), RecordId.Of("/plant/office", "b"));

        Assert.Equal("A", Agent(Unit("U-1", s_oiled, Withdraw(b, 1, "a"), Withdraw(a, 1, "b"))));
    }
}
