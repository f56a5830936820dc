using Traceability.Core.Concrete;
using Traceability.Core.Profiles;

namespace Traceability.Core.Tests.Concrete;

public sealed class BatchTests
{
    [Theory]
    [InlineData(2115, 2140, 1.182, false)]
    [InlineData(2115, 2094, -0.993, true)]
    [InlineData(705, 720, 2.128, true)]
    [InlineData(705, 701, -0.567, false)]
    [OutsideCheck("Cementitious on a 4,000 lb scale: 2,115 required, 2,140 and 2,094 batched; 705 required, 720 and 701 batched", "+1.182 % out, -0.993 % in, +2.128 % in, -0.567 % out", "ASTM C94/C94M, +-1 % from 30 % of capacity, else -0 / +4 %", SourceMark.Memory, Tolerance = "0.0005 %")]
    public void Cementitious_is_judged_by_its_share_of_the_scale(int required, int batched, double deviation, bool inside)
    {
        Assert.Equal((decimal)deviation, decimal.Round(Weighing.DeviationPct(required, batched), 3));
        var (least, greatest) = Weighing.Cementitious(required, 4000, 1, 30, 4);
        Assert.Equal(inside, batched >= least && batched <= greatest);
    }

    [Fact]
    public void The_small_batch_rule_begins_just_below_its_share()
    {
        Assert.Equal((1188m, 1212m), Weighing.Cementitious(1200, 4000, 1, 30, 4));
        Assert.Equal((1199m, 1199m * 1.04m), Weighing.Cementitious(1199, 4000, 1, 30, 4));
    }

    [Theory]
    [InlineData(600, 18)]
    [InlineData(2500, 30)]
    [InlineData(3000, 30)]
    [OutsideCheck("Cumulative aggregate on a 10,000 lb scale: 600, 2,500 and 3,000 lb required", "+-18, +-30, +-30 lb", "ASTM C94/C94M", SourceMark.Memory)]
    public void Cumulative_aggregate_has_its_own_rule(int required, int tolerance) => Assert.Equal(tolerance, Weighing.CumulativeAggregate(required, 10000));

    [Theory]
    [InlineData("231.7", true)]
    [InlineData("231.8", false)]
    [OutsideCheck("Batch water, 228.3 lb target: 231.7 and 231.8 lb", "in, out (limit 231.72 lb)", "ASTM C94/C94M-21a, +-1.5 % of the target batch water", SourceMark.Published)]
    public void Batch_water_turns_at_one_and_a_half_percent(string batched, bool inside)
    {
        var (_, greatest) = Weighing.Either(228.3m, 1.5m);
        Assert.Equal(231.72m, decimal.Round(greatest, 2));
        Assert.Equal(inside, decimal.Parse(batched) <= greatest);
    }

    [Fact]
    [OutsideCheck("Moisture correction per yd3: cementitious 705, water 270, sand 1,250 SSD (1.2 / 5.6 %), stone 1,780 SSD (0.6 / 0.2 %)", "sand OD 1,235.18, wet 1,304.35, free +54.35; stone OD 1,769.38, wet 1,772.92, free -7.08; batch water 222.73 lb; w/cm 0.38298", "ASTM C127, C128 and C566, oven-dry basis", SourceMark.Memory, Tolerance = "0.005 lb, 0.000005")]
    public void Moisture_is_corrected_on_the_oven_dry_mass()
    {
        var sand = BatchWater.OvenDryFromSsd(1250, 1.2m);
        var stone = BatchWater.OvenDryFromSsd(1780, 0.6m);
        var (wetSand, wetStone) = (BatchWater.WetFromOvenDry(sand, 5.6m), BatchWater.WetFromOvenDry(stone, 0.2m));
        var (freeSand, freeStone) = (BatchWater.FreeWater(wetSand, 5.6m, 1.2m), BatchWater.FreeWater(wetStone, 0.2m, 0.6m));
        Assert.Equal((1235.18m, 1304.35m, 54.35m), (decimal.Round(sand, 2), decimal.Round(wetSand, 2), decimal.Round(freeSand, 2)));
        Assert.Equal((1769.38m, 1772.92m, -7.08m), (decimal.Round(stone, 2), decimal.Round(wetStone, 2), decimal.Round(freeStone, 2)));
        Assert.Equal(222.73m, decimal.Round(270 - freeSand - freeStone, 2));
        Assert.Equal(0.38298m, decimal.Round(BatchWater.WaterToCementitious(270, 705), 5));
    }

    [Fact]
    [OutsideCheck("w/cm as batched: 222 lb metered, wet sand 1,310, wet stone 1,775, cementitious 566 + 140 lb", "free water 47.50 lb, w/cm 0.3817", "ASTM C127, C128 and C566, oven-dry basis", SourceMark.Memory, Tolerance = "0.005 lb, 0.00005")]
    public void Water_to_cementitious_as_batched_counts_the_free_water()
    {
        var free = BatchWater.FreeWater(1310, 5.6m, 1.2m) + BatchWater.FreeWater(1775, 0.2m, 0.6m);
        Assert.Equal(47.50m, decimal.Round(free, 2));
        Assert.Equal(0.3817m, decimal.Round(BatchWater.WaterToCementitious(222 + free, 566 + 140), 4));
    }

    [Fact]
    [OutsideCheck("Total moisture of 523.6 g wet, 496.0 g dry", "5.565 %", "ASTM C566", SourceMark.Memory, Tolerance = "0.0005 %")]
    public void Moisture_is_loss_over_dry_mass() => Assert.Equal(5.565m, decimal.Round(BatchWater.MoisturePct(523.6m, 496.0m), 3));

    [Fact]
    public void What_has_no_dry_mass_or_no_cement_is_refused()
    {
        Assert.Throws<ArgumentOutOfRangeException>(() => BatchWater.MoisturePct(1, 0));
        Assert.Throws<ArgumentOutOfRangeException>(() => BatchWater.WaterToCementitious(1, 0));
        Assert.Throws<ArgumentOutOfRangeException>(() => BatchWater.FreeWater(1, -100, 0));
        Assert.Throws<ArgumentOutOfRangeException>(() => Weighing.DeviationPct(0, 1));
    }
}
