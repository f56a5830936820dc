using Traceability.PlantSimulator.Story;
using CsCheck;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.Core.Tests.Judging;

namespace Traceability.Core.Tests.Dossiers;

/// <summary>What can be in a unit through a storage, which cage is in it, which contract it belongs to.</summary>
public class WhatIsInAUnitTests
{
    private static readonly LotId s_early = new("mill-x", "E1"), s_between = new("mill-x", "B2"), s_late = new("mill-x", "L3"), s_certain = new("mill-a", "A50932");

    private static DateTimeOffset Tied => UnitCase.Good.RecordOf<CageTied>().OccurredAt.At;

    private static UnitFile File(UnitCase of) => Assemble.Unit(new Dossier(Subject.Unit(UnitCase.Unit), of.Records.Count, of.Records, PlantStory.Time));

    // The cage's #5 bars come from the rack, the others from lots whose tags were read.
    private static UnitCase FromRack => UnitCase.Good.Change<CageTied>(c => c with { Bars = [c.Bars[0] with { Lots = [], Rack = "RACK-5" }, .. c.Bars.Skip(1)] });

    private static Subject Lot(LotId lot) => Subject.Lot(lot.Producer, lot.Number);

    [Fact]
    public void Bars_from_a_rack_may_be_of_every_lot_that_could_have_been_in_it_and_of_no_later_one()
    {
        var file = File(FromRack
            .Add(new StorageFilled("RACK-5", s_early, Material.Bar), Tied.AddDays(-3))
            .Add(new StorageFilled("RACK-5", s_between, Material.Bar), Tied.AddDays(-1))
            .Add(new StorageFilled("RACK-5", s_late, Material.Bar), Tied.AddDays(1)));

        Assert.Contains(Lot(s_early), file.OnlyPossible);
        Assert.Contains(Lot(s_between), file.OnlyPossible);
        Assert.DoesNotContain(Lot(s_late), file.Reached);
        Assert.Equal([s_early, s_between], file.Contents("RACK-5", file.Cage!.At).Select(c => c.Fact.Lot));
    }

    [Fact]
    public void What_was_in_a_rack_before_it_was_emptied_is_in_nothing_tied_later()
    {
        var file = File(FromRack
            .Add(new StorageFilled("RACK-5", s_early, Material.Bar), Tied.AddDays(-3))
            .Add(new StorageEmptied("RACK-5", "swept"), Tied.AddDays(-2))
            .Add(new StorageFilled("RACK-5", s_between, Material.Bar), Tied.AddDays(-1)));

        Assert.DoesNotContain(Lot(s_early), file.Reached);
        Assert.Contains(Lot(s_between), file.OnlyPossible);
    }

    [Fact]
    public void A_lot_whose_filling_and_tying_the_clocks_cannot_order_stays_possible()
    {
        var other = FromRack.Add(new StorageFilled("RACK-5", s_late, Material.Bar), Tied.AddMilliseconds(20), source: "/plant/receiving-1");

        Assert.Equal(TimeOrder.CannotTell, File(other).Of<StorageFilled>().Single().At.Compare(File(other).Cage!.At));
        Assert.Contains(Lot(s_late), File(other).OnlyPossible);
    }

    [Fact]
    public void A_lot_that_is_certainly_in_the_unit_is_not_only_possible_because_a_rack_held_it_too()
    {
        var certain = UnitCase.Good.The<CageTied>().Bars[0].Lots[0];
        var file = File(UnitCase.Good.Change<CageTied>(c => c with { Bars = [c.Bars[0] with { Rack = "RACK-5" }, .. c.Bars.Skip(1)] })
            .Add(new StorageFilled("RACK-5", certain, Material.Bar), Tied.AddDays(-1)));

        Assert.Contains(Lot(certain), file.Reached);
        Assert.DoesNotContain(Lot(certain), file.OnlyPossible);
    }

    [Fact]
    public void The_certificate_of_a_possible_lot_bears_on_the_unit_and_that_of_a_lot_that_came_later_does_not()
    {
        LotCertified Certificate(LotId lot) => UnitCase.Good.The<LotCertified>() with { Lot = lot, CertificateNumber = "MTR-" + lot.Number };
        var file = File(FromRack
            .Add(new StorageFilled("RACK-5", s_between, Material.Bar), Tied.AddDays(-1)).Add(Certificate(s_between), Tied.AddDays(-1))
            .Add(new StorageFilled("RACK-5", s_late, Material.Bar), Tied.AddDays(1)).Add(Certificate(s_late), Tied.AddDays(1)));

        Assert.Contains(file.Of<LotCertified>(), c => c.Fact.Lot == s_between);
        Assert.DoesNotContain(file.Of<LotCertified>(), c => c.Fact.Lot == s_late);
    }

    [Fact]
    public void A_cage_that_was_swapped_out_is_no_part_of_the_unit_and_the_one_swapped_in_is()
    {
        var first = UnitCase.Good.The<CageTied>();
        var inspected = UnitCase.Good.RecordOf<CloseUpInspected>().OccurredAt.At;
        var other = first with { Cage = "CG-OTHER", Unit = "RF-0900", Bars = [.. first.Bars.Select(b => b with { Lots = [s_late] })] };
        var file = File(UnitCase.Good.Add(other, Tied).Add(new CageSwapped(UnitCase.Unit, first.Cage, "CG-OTHER", "bent bar"), inspected.AddMinutes(5)));

        Assert.Equal("CG-OTHER", file.Cage!.Fact.Cage);
        Assert.Contains(Lot(s_late), file.Reached);
        Assert.DoesNotContain(Subject.Cage(first.Cage), file.Reached);
        Assert.DoesNotContain(Lot(first.Bars[1].Lots[0]), file.Reached);
    }

    [Fact]
    public void The_cage_that_the_inspector_saw_after_a_swap_is_the_one_in_the_unit()
    {
        var first = UnitCase.Good.The<CageTied>();
        var inspected = UnitCase.Good.RecordOf<CloseUpInspected>().OccurredAt.At;
        var file = File(UnitCase.Good.Add(new CageSwapped(UnitCase.Unit, first.Cage, "CG-OTHER", "told too early"), inspected.AddMinutes(-5)));

        Assert.Equal(first.Cage, file.Cage!.Fact.Cage);
    }

    [Fact]
    public void A_stock_unit_is_judged_by_the_profile_it_was_cast_to_and_by_its_contracts_once_allocated()
    {
        var profile = UnitCase.Good.The<ProfilePublished>();
        var contract = UnitCase.Good.The<ContractOpened>();
        var stock = UnitCase.Good.Change<UnitScheduled>(u => u with { Contract = null, StockProfile = "plant-stock", StockProfileVersion = 3 })
            .Add(profile with { Profile = "plant-stock", Version = 3 }, Tied.AddDays(-20));

        Assert.Null(File(stock).Assigned);
        Assert.Equal("profile:plant-stock@3", File(stock).Profile!.Fact.About.Key);

        var allocated = stock.Add(new UnitAllocated(UnitCase.Unit, contract.Contract, "MH-4"), Tied.AddDays(20));

        Assert.Equal((contract.Contract, "MH-4"), File(allocated).Assigned);
        Assert.Equal(profile.About, File(allocated).Profile!.Fact.About);
    }

    [Fact]
    public void The_last_of_allocation_and_re_marking_decides_the_contract_and_the_last_adoption_its_profile()
    {
        var contract = UnitCase.Good.The<ContractOpened>();
        var profile = UnitCase.Good.The<ProfilePublished>();
        var moved = UnitCase.Good.Add(contract with { Contract = "C-OTHER" }, Tied.AddDays(-20))
            .Add(new UnitRemarked(UnitCase.Unit, "C-OTHER", "RF25", "taken for the other bridge"), Tied.AddDays(30))
            .Add(profile with { Version = 9 }, Tied.AddDays(-10));

        Assert.Equal(("C-OTHER", "RF25"), File(moved).Assigned);
        Assert.Equal(profile.Version, File(moved).Profile!.Fact.Version);

        var adopted = moved.Add(new ProfileAdopted("C-OTHER", profile.Profile, 9, "new letting"), Tied.AddDays(31));

        Assert.Equal(9, File(adopted).Profile!.Fact.Version);
    }

    [Fact]
    public void A_sample_of_another_batch_stands_for_every_unit_of_its_sampling_lot()
    {
        var sample = UnitCase.Good.The<SampleTested>();
        var mix = UnitCase.Good.The<UnitScheduled>().Mix;
        var of = UnitCase.Good.Without<SampleTested>().Without<CylinderBroken>()
            .Add(new SamplingLotDefined("SL-1", SamplingBasis.UnitGroup, mix, [UnitCase.Unit, "RF-0900"], DrawnAtRandom: true), Tied)
            .Add(sample with { Batch = sample.Batch with { Ticket = "elsewhere" }, SamplingLot = "SL-1" }, sample.MouldedAt);

        Assert.Empty(File(of).Samples);
        Assert.Equal(sample.Sample, Assert.Single(File(of).RepresentingSamples).Fact.Sample);
    }

    [Fact]
    public void What_is_gathered_through_storages_is_judged_like_everything_there_is_in_any_order()
    {
        var lots = new[] { s_early, s_between, s_late, s_certain };
        var gen = Gen.Select(Gen.Int[0, 3], Gen.Int[-4000, 4000], Gen.Bool).Array[1, 8];
        Gen.Select(gen, Gen.Int).Sample((fills, seed) =>
        {
            var of = FromRack;
            foreach (var (lot, minutes, empties) in fills)
                of = of.Add(empties ? new StorageEmptied("RACK-5", "swept") : new StorageFilled("RACK-5", lots[lot], Material.Bar), Tied.AddMinutes(minutes));
            var sent = of.Records.Select(r => r.Sent).ToList();
            var (inOrder, shuffled) = (Pool.Store(sent), Pool.Store(DossierGen.Shuffled(sent, seed)));
            var unit = Subject.Unit(UnitCase.Unit);

            Assert.Equal(Judge.Dossier(inOrder.Everything(unit), of.At).Hash, Judge.Dossier(shuffled.Gather(unit), of.At).Hash);
            Assert.Equal(Assemble.Unit(inOrder.Everything(unit)).OnlyPossible.Order(), Assemble.Unit(shuffled.Gather(unit)).OnlyPossible.Order());
        }, iter: 60);
    }
}
