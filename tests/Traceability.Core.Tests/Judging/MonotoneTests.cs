using Traceability.Core.Judging;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Judging;

public sealed class MonotoneTests
{
    private static HashSet<(string Requirement, string Subject)> Open(UnitCase unit) =>
        [.. unit.Judge().Findings.Where(f => !f.Allows).Select(f => (f.Requirement, f.Subject))];

    [Fact]
    public void Without_any_one_record_every_requirement_still_answers()
    {
        foreach (var gone in Good.Records)
        {
            var judged = Without(Good, gone).Judge();
            Assert.Equal(Rules.All.Select(r => r.Id).Order(), judged.Findings.Select(f => f.Requirement).Distinct().Order());
        }
    }

    [Fact]
    public void Only_what_no_hold_of_this_unit_rests_on_can_be_absent_without_an_open_item()
    {
        var spare = Good.Records.Where(r => Open(Without(Good, r)).Count == 0).Select(r => r.Fact switch
        {
            Traceability.Core.Events.CylinderBroken b => r.Type + " " + b.Cylinder[..2],
            Traceability.Core.Events.LotReceived => r.Type,
            Traceability.Core.Events.PersonCertified p => r.Type + " " + p.Person,
            Traceability.Core.Events.InstrumentCalibrated i => r.Type + " " + i.Instrument,
            _ => r.Type,
        }).Distinct().Order(StringComparer.Ordinal);
        // Sizes stand on certificates too; one machine and one technician broke nothing here.
        Assert.Equal(
            ["form.oiled.v1", "inspector.assigned.v1", "instrument.calibrated.v1 CM-2", "lot.received.v1", "person.certified.v1 p-112", "unit.shipped.v1"], spare);
    }

    private static UnitCase Without(UnitCase unit, Traceability.Core.Records.Record gone) => unit with { Records = [.. unit.Records.Where(r => r.Id != gone.Id)] };

    [Fact]
    public void Taking_away_a_second_record_never_closes_an_item_that_the_first_left_open()
    {
        // Records of a good unit are all favourable: what one of them leaves open, another's absence must not fix.
        // Subjects vanish with their records (a batch no placement names), so whole holds are compared.
        foreach (var first in Good.Records.DistinctBy(r => r.Type))
        {
            var without = Without(Good, first);
            var held = without.Judge().Holds.Where(h => h.OpenItems.Count > 0).Select(h => h.Kind).ToHashSet();
            if (held.Count == 0) continue;
            foreach (var second in without.Records)
            {
                var both = Without(without, second).Judge();
                Assert.All(held, kind => Assert.True(both.Hold(kind).OpenItems.Count > 0, $"without {first.Type} the {kind} hold is held, without {second.Type} too it is not"));
            }
        }
    }

    [Fact]
    public void Every_limit_taken_out_of_the_profile_leaves_its_requirement_open_or_was_not_asked()
    {
        // Asked of what this unit does not have: a product standard's lot, cores, an initial cure read out, cracks.
        string[] elsewhere = ["acceptance.lot.", "core.", "cylinder.initial.", "crack.", "defect."];
        string[] optional = ["cover.reduction.share-divisor", "cover.reduction.shallow", "fresh.flow.low", "acceptance.cylinders.6x12", "steel.a615-60.ratio-min", "fresh.slump.low", "fresh.slump.middle", "fresh.slump.high"];
        var all = Good.The<Traceability.Core.Events.ProfilePublished>().Limits.Select(l => l.Key).Where(k => !optional.Contains(k) && !elsewhere.Any(e => k.StartsWith(e, StringComparison.Ordinal)) && !k.StartsWith("steel.a706", StringComparison.Ordinal) && !k.StartsWith("steel.a615-60.elongation-min.7", StringComparison.Ordinal) && !k.StartsWith("steel.a615-60.elongation-min.9", StringComparison.Ordinal));
        Assert.All(all, key => Assert.True(Open(Good.Limit(key, _ => null)).Count > 0, $"{key} is in the profile and nothing asks for it"));
    }

    [Fact]
    public void Judging_does_not_depend_on_the_order_of_the_records()
    {
        var hash = Good.Judge().Hash;
        Assert.Equal(hash, (Good with { Records = [.. Good.Records.Reverse()] }).Judge().Hash);
    }
}
