using System.Globalization;
using CsCheck;
using Traceability.Core.Concrete;
using Traceability.Core.Profiles;
using Traceability.Core.Quantities;

namespace Traceability.Core.Tests.Concrete;

public sealed class FreshRulesTests
{
    private static decimal D(string text) => decimal.Parse(text, CultureInfo.InvariantCulture);

    private static DateTimeOffset T(string time) => new(DateOnly.Parse("2026-03-04", CultureInfo.InvariantCulture), TimeOnly.Parse(time, CultureInfo.InvariantCulture), TimeSpan.FromHours(-5));

    private static SampleTimes Sample(string first = "09:00:00", string? last = "09:12:00", string made = "09:13:00", string test = "09:16:00", string mould = "09:20:00") =>
        new(T(first), last is null ? null : T(last), T(made), [T(test)], T(mould));

    [Theory]
    [InlineData("09:16:59", true)]
    [InlineData("09:17:00", true)]
    [InlineData("09:17:01", false)]
    [OutsideCheck("Last portion at 09:12:00, air started at 09:16:59, 09:17:00 and 09:17:01", "in time, in time, late", "ASTM C172/C172M, 5 min", SourceMark.Published)]
    public void Tests_begin_within_five_minutes_of_the_last_portion(string started, bool inTime) =>
        Assert.Equal(inTime ? [] : [SamplingBreach.TestStartedLate], SamplingClock.Breaches(Sample(test: started)));

    [Theory]
    [InlineData("09:28:00", true)]
    [InlineData("09:28:30", false)]
    [OutsideCheck("Composite finished at 09:13:00, moulding started at 09:28:00 and 09:28:30", "in time, late", "ASTM C31/C31M and C172/C172M, 15 min to the start", SourceMark.Published)]
    public void Moulding_begins_within_fifteen_minutes_of_the_composite(string started, bool inTime) =>
        Assert.Equal(inTime ? [] : [SamplingBreach.MouldingStartedLate], SamplingClock.Breaches(Sample(mould: started)));

    [Theory]
    [InlineData("08:57:00", true)]
    [InlineData("08:56:30", false)]
    [OutsideCheck("First portion at 08:56:30, last at 09:12:00", "15:30 apart: too far", "ASTM C172/C172M, 15 min", SourceMark.Memory)]
    public void Portions_lie_within_fifteen_minutes(string first, bool inTime) =>
        Assert.Equal(inTime ? [] : [SamplingBreach.PortionsTooFarApart], SamplingClock.Breaches(Sample(first)));

    [Fact]
    [OutsideCheck("Sample for strength specimens: least volume, portions, part of the load", "1 ft3, two, not the first or last 10 %", "ASTM C172/C172M", SourceMark.Published)]
    public void A_sample_is_large_enough_and_from_the_middle_of_the_load()
    {
        Assert.Empty(SamplingClock.Breaches(Sample() with { VolumeFt3 = 1, Portions = 2, LoadFractions = [0.10m, 0.90m] }));
        Assert.Equal([SamplingBreach.TooSmall, SamplingBreach.TooFewPortions, SamplingBreach.EndOfLoad],
            SamplingClock.Breaches(Sample() with { VolumeFt3 = 0.99m, Portions = 1, LoadFractions = [0.5m, 0.91m] }));
        Assert.Equal([SamplingBreach.EndOfLoad], SamplingClock.Breaches(Sample() with { LoadFractions = [0.09m] }));
    }

    [Fact]
    public void Times_out_of_order_are_named_and_absent_ones_are_not_judged()
    {
        Assert.Equal([SamplingBreach.OutOfOrder], SamplingClock.Breaches(Sample(first: "09:13:00")));
        Assert.Empty(SamplingClock.Breaches(Sample(last: null, test: "11:00:00")));
    }

    [Theory]
    [InlineData(RoundingRule.HalfEven)]
    [InlineData(RoundingRule.HalfUp)]
    [OutsideCheck("Slump flow of 26.0 x 27.5 in: a tie at 26.75 in", "27.0 in by both rules", "ASTM C1611/C1611M, to 1/2 in", SourceMark.Memory)]
    [OutsideCheck("Slump flow of 24.0 x 26.5 in", "2.5 in apart: invalid", "ASTM C1611/C1611M, more than 2 in", SourceMark.Memory)]
    public void A_flow_needs_two_diameters_that_agree(RoundingRule rule)
    {
        Assert.True(FreshTests.FlowValid(26.0m, 27.5m));
        Assert.Equal(27.0m, FreshTests.FlowIn(26.0m, 27.5m, rule));
        Assert.False(FreshTests.FlowValid(24.0m, 26.5m));
        Assert.True(FreshTests.FlowValid(24.0m, 26.0m));
    }

    [Theory]
    [InlineData("25.5", Blocking.NoneVisible)]
    [InlineData("25.0", Blocking.MinimalToNoticeable)]
    [InlineData("24.5", Blocking.MinimalToNoticeable)]
    [InlineData("24.0", Blocking.NoticeableToExtreme)]
    [OutsideCheck("Slump flow 26.5 in, J-ring flow 25.0 in", "1.5 in: minimal to noticeable blocking", "ASTM C1621/C1621M", SourceMark.Memory)]
    [OutsideCheck("Differences of 1 in and of more than 2 in", "good passing; poor passing", "ASTM C1621/C1621M, trade note on its revision", SourceMark.Published)]
    public void Blocking_goes_by_what_the_ring_takes(string ring, Blocking blocking) => Assert.Equal(blocking, FreshTests.JRing(26.5m, D(ring)));

    [Theory]
    [InlineData("5.10", "5.60", "9.3")]
    [InlineData("5.60", "5.10", "0")]
    [OutsideCheck("Column: washed coarse aggregate 5.10 lb above, 5.60 lb below; and the other way", "9.3 %; 0", "ASTM C1610/C1610M, difference over mean", SourceMark.Published, Tolerance = "0.05 %")]
    public void A_column_segregates_downwards(string top, string bottom, string pct)
    {
        Assert.Equal(D(pct), decimal.Round(FreshTests.ColumnPct(D(top), D(bottom)), 1));
        Assert.Throws<ArgumentOutOfRangeException>(() => FreshTests.ColumnPct(0, 0));
    }

    [Theory]
    [InlineData("9.9", SegregationResistance.Resistant)]
    [InlineData("10", SegregationResistance.Moderate)]
    [InlineData("24.9", SegregationResistance.Moderate)]
    [InlineData("25", SegregationResistance.NotResistant)]
    [OutsideCheck("Penetration of 9.9, 10 and 25 mm", "resistant, moderate, not resistant", "ASTM C1712", SourceMark.Memory)]
    public void Penetration_tells_resistance(string mm, SegregationResistance resistance) => Assert.Equal(resistance, FreshTests.Penetration(D(mm)));

    [Theory]
    [InlineData("3", "1", "2", true)]
    [InlineData("3", "1.25", "2", false)]
    [InlineData("3.75", "1.25", "5", true)]
    [InlineData("2.9", "0.5", "3", false)]
    [InlineData("3", "0.5", "1.9", false)]
    [InlineData("3", "0.5", "5.1", false)]
    [OutsideCheck("Temperature: concrete around the sensor and minutes after insertion", "3 in and three times the aggregate; 2 to 5 min", "ASTM C1064/C1064M", SourceMark.Published)]
    public void A_temperature_counts_with_enough_concrete_and_enough_time(string cover, string aggregate, string minutes, bool valid) =>
        Assert.Equal(valid, FreshTests.TemperatureValid(D(cover), D(aggregate), D(minutes)));

    [Fact]
    [OutsideCheck("Slump: height left 7.6 in of a cone of 12 in", "4 1/2 in, to 1/4 in", "ASTM C143/C143M", SourceMark.Published)]
    [OutsideCheck("Slump: seconds to lift the cone, time of the whole test, largest aggregate", "5 +-2 s, 2 1/2 min, 1 1/2 in", "ASTM C143/C143M", SourceMark.Published)]
    public void Slump_is_what_the_cone_lost()
    {
        Assert.Equal(4.5m, FreshTests.SlumpIn(7.6m, RoundingRule.HalfEven));
        Assert.Equal((new Band(3, 7), 150m, 1.5m), (FreshTests.ConeLiftS, FreshTests.SlumpTestS, FreshTests.SlumpAggregateIn));
    }

    [Fact]
    [OutsideCheck("Time to 20 in of concrete of low viscosity, accepted stability, standing of the column", "2 to 5 s, index 0 or 1, 15 min", "overviews of tests of self-consolidating concrete, ASTM C1611/C1611M and C1610/C1610M", SourceMark.Published)]
    public void Self_consolidating_concrete_has_its_usual_figures()
    {
        Assert.Equal((new Band(2, 5), 1, 15m), (FreshTests.LowViscosityT20S, FreshTests.StableIndex, FreshTests.ColumnStandsMin));
    }

    [Theory]
    [InlineData("1.2", "0.65", "0.82")]
    [InlineData("3.4", "1.07", "1.10")]
    [InlineData("6.5", "1.13", "1.50")]
    [OutsideCheck("Two slumps of one operator and of two laboratories at 1.2, 3.4 and 6.5 in", "0.65, 1.07, 1.13 in; 0.82, 1.10, 1.50 in", "ASTM C143/C143M, precision", SourceMark.Memory)]
    [OutsideCheck("Two densities, flows, temperatures, airs", "1.85 and 2.31 lb/ft3; 3.0 in; 1.3 and 1.9 F; 0.8 % between laboratories", "ASTM C138/C138M, C1611/C1611M, C1064/C1064M, C231/C231M, precision", SourceMark.Memory)]
    public void Two_results_may_differ_by_so_much(string slump, string one, string two)
    {
        Assert.Equal(new AcceptableDifference(D(one), D(two)), Precision.SlumpIn(D(slump)));
        Assert.Equal((true, false), (Precision.DensityLbFt3.Agree(143.72m, 145.57m), Precision.DensityLbFt3.Agree(143.72m, 145.58m)));
        Assert.Null(Precision.AirPct.Agree(6, 6));
        Assert.Equal((0.8m, 2.31m, 3.0m, 1.9m), (Precision.AirPct.Multilaboratory, Precision.DensityLbFt3.Multilaboratory, Precision.FlowIn.SingleOperator, Precision.TemperatureF.Multilaboratory));
    }

    [Theory]
    [InlineData("0.375", "6.0", "7.5")]
    [InlineData("0.5", "5.5", "7.0")]
    [InlineData("0.75", "5.0", "6.0")]
    [InlineData("1", "4.5", "6.0")]
    [InlineData("1.5", "4.5", "5.5")]
    [InlineData("2", "4.0", "5.0")]
    [InlineData("3", "3.5", "4.5")]
    [OutsideCheck("Air by aggregate size from 3/8 to 3 in, moderate and severe freezing", "6.0, 5.5, 5.0, 4.5, 4.5, 4.0, 3.5 % and 7.5, 7.0, 6.0, 6.0, 5.5, 5.0, 4.5 %", "ACI 318, air for freezing exposure, table derived from the edition of 2000", SourceMark.Published)]
    public void Air_goes_by_aggregate_and_exposure(string aggregate, string moderate, string severe) =>
        Assert.Equal((D(moderate), D(severe), D(severe)), (AirTarget.Pct(D(aggregate), FreezingClass.F1), AirTarget.Pct(D(aggregate), FreezingClass.F2), AirTarget.Pct(D(aggregate), FreezingClass.F3)));

    [Fact]
    [OutsideCheck("F3, 3/4 in, 5,000 psi: target and accepted", "6.0 %, 4.5 to 7.5 %", "ACI 318, air for freezing exposure, +-1.5 %", SourceMark.Published)]
    [OutsideCheck("The same at 6,000 psi: least target and accepted", "5.0 %, 3.5 to 6.5 %", "ACI 318-19, 19.3.3, a point less above 5,000 psi", SourceMark.Memory)]
    [OutsideCheck("Gauge 7.3 and 8.1 %, aggregate correction 0.4 %, at that target of 6.0 %", "6.9 % in, 7.7 % out", "ASTM C231/C231M and ACI 318", SourceMark.Memory)]
    public void Strong_concrete_may_have_a_point_less()
    {
        Assert.Equal((6.0m, 5.0m), (AirTarget.LeastPct(0.75m, FreezingClass.F3, 5000), AirTarget.LeastPct(0.75m, FreezingClass.F3, 6000)));
        Assert.Equal(5.0m, AirTarget.LeastPct(0.75m, FreezingClass.F3, 5000.01m));
        Assert.Equal((new Band(4.5m, 7.5m), new Band(3.5m, 6.5m)), (AirTarget.Accepted(6.0m), AirTarget.Accepted(5.0m)));
        Assert.Equal((true, false), (AirTarget.Accepted(6).Holds(FreshTests.AirPct(7.3m, 0.4m)), AirTarget.Accepted(6).Holds(FreshTests.AirPct(8.1m, 0.4m))));
    }

    [Fact]
    [OutsideCheck("Owners' air of 5 1/2 and 6 %", "4 to 7 % and 4 1/2 to 7 1/2 %", "Virginia Department of Transportation, box-culvert solicitation; HPC Bridge Views 67, Wisconsin decks", SourceMark.Published)]
    public void Owners_name_their_own_air()
    {
        Assert.Equal(new Band(4, 7), AirTarget.Accepted(5.5m));
        Assert.Equal(new Band(4.5m, 7.5m), AirTarget.Accepted(6));
        Assert.Null(AirTarget.Pct(0.6m, FreezingClass.F1));
        Assert.Equal(7, AirTarget.Sizes.Count);
        Assert.All(AirTarget.Sizes, s => Assert.True(Math.Abs(s.In * Si.MmPerIn - s.Mm) <= 1.2m));
    }

    [Theory]
    [InlineData(80, 80, "0.50", 10, "0.1431")]
    [InlineData(90, 80, "0.40", 12, "0.3129")]
    [InlineData(70, 40, "1.00", 10, "0.1544")]
    [InlineData(75, 70, "0.70", 5, "0.0600")]
    [OutsideCheck("Evaporation at concrete, air, humidity, wind of 80 F, 80 F, 0.50, 10 mph; 90, 80, 0.40, 12; 70, 40, 1.00, 10; 75, 70, 0.70, 5", "0.1431, 0.3129, 0.1544, 0.0600 lb/ft2/h", "Uno, ACI Materials Journal 95-M34, 1998, customary form", SourceMark.Published, Tolerance = "0.00005 lb/ft2/h")]
    public void Evaporation_in_customary_units(int concrete, int air, string humidity, int wind, string rate) =>
        Assert.Equal(D(rate), decimal.Round(Evaporation.LbFt2H(concrete, air, D(humidity), wind), 4));

    [Theory]
    [InlineData(80, 80, "0.50", 10, "0.6698")]
    [InlineData(90, 80, "0.40", 12, "1.4618")]
    [InlineData(70, 40, "1.00", 10, "0.7213")]
    [InlineData(75, 70, "0.70", 5, "0.2807")]
    [OutsideCheck("The same four in SI", "0.6698, 1.4618, 0.7213, 0.2807 kg/m2/h", "Uno, ACI Materials Journal 95-M34, 1998, SI form", SourceMark.Published, Tolerance = "0.00005 kg/m2/h")]
    [OutsideCheck("The two published forms on the same four", "about 4 % apart", "Uno, ACI Materials Journal 95-M34, 1998", SourceMark.Published, Tolerance = "3.5 to 5 %")]
    public void Evaporation_in_si_units_is_another_published_form(int concrete, int air, string humidity, int wind, string rate)
    {
        var si = Evaporation.KgM2H(Si.Celsius(concrete), Si.Celsius(air), D(humidity), wind * Si.KmPerMile);
        Assert.Equal(D(rate), decimal.Round(si, 4));
        var apart = Evaporation.LbFt2H(concrete, air, D(humidity), wind) / (si / Si.KgM2PerLbFt2) - 1;
        Assert.InRange(apart, 0.035m, 0.05m);
    }

    [Fact]
    [OutsideCheck("Evaporation at 30 C, 25 C, 0.40, 20 km/h", "1.3335 kg/m2/h", "Uno, ACI Materials Journal 95-M34, 1998, SI form", SourceMark.Published, Tolerance = "0.00005 kg/m2/h")]
    public void Evaporation_of_a_hot_dry_day() => Assert.Equal(1.3335m, decimal.Round(Evaporation.KgM2H(30, 25, 0.40m, 20), 4));

    [Fact]
    [OutsideCheck("Rate from which precautions are taken, in both units", "0.2 lb/ft2/h, about 1.0 kg/m2/h", "federal guide specification UFGS 03300N", SourceMark.Published, Tolerance = "2.5 %")]
    public void The_action_limit_is_one_kilogram_a_square_metre()
    {
        Assert.Equal(0.98m, decimal.Round(Evaporation.ActionLbFt2H * Si.KgM2PerLbFt2, 2));
        Assert.True(Evaporation.LowBleedLbFt2H < Evaporation.ActionLbFt2H);
    }

    [Fact]
    public void Evaporation_grows_with_concrete_temperature_and_wind_and_falls_with_humidity() =>
        Gen.Select(Gen.Decimal[50m, 95m], Gen.Decimal[35m, 100m], Gen.Decimal[0.1m, 0.9m], Gen.Decimal[0m, 25m]).Sample((concrete, air, humidity, wind) =>
        {
            var rate = Evaporation.LbFt2H(concrete, air, humidity, wind);
            return Evaporation.LbFt2H(concrete + 1, air, humidity, wind) > rate && Evaporation.LbFt2H(concrete, air, humidity + 0.1m, wind) < rate
                && (rate <= 0 || Evaporation.LbFt2H(concrete, air, humidity, wind + 1) > rate);
        });

    [Fact]
    public void Weather_that_cannot_be_is_refused()
    {
        Assert.Throws<ArgumentOutOfRangeException>(() => Evaporation.LbFt2H(70, 70, 1.01m, 5));
        Assert.Throws<ArgumentOutOfRangeException>(() => Evaporation.LbFt2H(70, 70, -0.01m, 5));
        Assert.Throws<ArgumentOutOfRangeException>(() => Evaporation.KgM2H(20, 20, 0.5m, -1));
        Assert.Throws<ArgumentOutOfRangeException>(() => Evaporation.KgM2H(-19, 20, 0.5m, 1));
    }

    [Theory]
    [InlineData("11.99", 55, 60, 65, 70, 50)]
    [InlineData("12", 50, 55, 60, 65, 40)]
    [InlineData("36", 50, 55, 60, 65, 40)]
    [InlineData("36.01", 45, 50, 55, 60, 30)]
    [InlineData("72.01", 40, 45, 50, 55, 20)]
    [OutsideCheck("Cold weather, sections below 12 in and of 12 to 36 in: as placed, as mixed above 30 F, at 0 to 30 F, below 0 F, largest fall in 24 h", "55, 60, 65, 70, 50 F and 50, 55, 60, 65, 40 F", "ACI 306R, table as adapted in a masonry and concrete textbook", SourceMark.Published)]
    [OutsideCheck("The same, sections of 36 to 72 in and above", "45, 50, 55, 60, 30 F and 40, 45, 50, 55, 20 F", "ACI 306R", SourceMark.Memory)]
    public void Cold_weather_goes_by_the_section(string section, int placed, int mild, int cold, int severe, int drop)
    {
        var row = ColdWeather.Row(D(section));
        Assert.Equal(new ColdRow(placed, mild, cold, severe, drop), row);
        Assert.Equal((mild, cold, cold, severe), (row.MixedF(30.1m), row.MixedF(30), row.MixedF(0), row.MixedF(-0.1m)));
    }

    [Fact]
    [OutsideCheck("Cold weather by the older definition: three days with means of 39 F, one of them above 50 F for 13 h", "not cold; cold with at most 12 h", "ACI 306R, older editions, cold-weather chapters", SourceMark.Published)]
    [OutsideCheck("Cold weather by the newer definition: 40 and 41 F", "cold, not cold", "ACI 306R-10 and -16", SourceMark.Memory)]
    public void Editions_define_cold_weather_differently()
    {
        Assert.True(ColdWeather.IsColdByDays([(39, 0), (39, 12), (39, 5)]));
        Assert.False(ColdWeather.IsColdByDays([(39, 0), (39, 13), (39, 5)]));
        Assert.False(ColdWeather.IsColdByDays([(39, 0), (40, 0), (39, 5)]));
        Assert.False(ColdWeather.IsColdByDays([(39, 0), (39, 0)]));
        Assert.True(ColdWeather.IsColdByDays([(50, 0), (39, 0), (38, 0), (39, 0)]));
        Assert.Equal((true, false), (ColdWeather.IsCold(40), ColdWeather.IsCold(41)));
    }

    [Fact]
    [OutsideCheck("Precast work in the cold: least temperature at placing, hottest mixing water, strength before freezing", "45 F, 180 F, 500 psi", "National Precast Concrete Association, cold-weather article (2012)", SourceMark.Published)]
    [OutsideCheck("Fastest cooling after protection", "5 F/h", "federal guide specification UFGS 03300N", SourceMark.Published)]
    public void Precast_work_in_the_cold_has_its_figures() =>
        Assert.Equal((45m, 180m, 500m, 5m), (ColdWeather.PrecastPlacedF, ColdWeather.MixingWaterF, ColdWeather.FrozenBelowPsi, ColdWeather.CoolingFPerHour));

    [Fact]
    public void The_baseline_profile_asks_the_temperatures_of_the_tables()
    {
        var limits = PlantSimulator.Story.ProfileFile.Baseline().Limits.ToDictionary(l => l.Key, l => l.Value.Value);
        Assert.Equal(ColdWeather.Row(12).PlacedF, limits["fresh.temperature.min"]);
        Assert.Equal(HotWeather.PlacedF, limits["fresh.temperature.max"]);
        Assert.Equal(AirTarget.TolerancePct, limits["fresh.air.tolerance"]);
        Assert.Equal(FreshTests.DiametersApartIn, limits["fresh.flow.diameters"]);
        Assert.Equal(FreshTests.StableIndex, limits["fresh.stability.max"]);
        Assert.Equal((decimal)SamplingClock.Moulding.TotalMinutes, limits["fresh.moulding.minutes"]);
        Assert.Equal(SlumpTolerance.Flow(22), Band.Around(22, limits["fresh.flow.low"]));
        Assert.Equal(SlumpTolerance.Flow(26), Band.Around(26, limits["fresh.flow.high"]));
        Assert.Equal(Weighing.BatchWaterPct, limits["batch.water"]);
        Assert.Equal(DischargeClock.DefaultMinutes, limits["discharge.minutes"]);
    }
}
