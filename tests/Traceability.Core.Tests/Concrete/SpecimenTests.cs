using CsCheck;
using Traceability.Core.Concrete;
using Traceability.Core.Profiles;
using static Traceability.Core.Tests.Concrete.Numbers;

namespace Traceability.Core.Tests.Concrete;

public sealed class SpecimenTests
{
    [Theory]
    [InlineData(5000, "59.0", "75", "40", 1)]
    [InlineData(5000, "60", "80", "48", 0)]
    [InlineData(6000, "70", "79", "40", 1)]
    [InlineData(6000, "68", "78", "40", 0)]
    [InlineData(5990, "60", "79", "40", 0)]
    [InlineData(5000, "65", "75", "48.5", 1)]
    [OutsideCheck("Initial cure of f'c 5,000 psi specimens, lowest 59.0 F", "outside 60 to 80 F", "ASTM C31/C31M, 10.1.2", SourceMark.Published)]
    [OutsideCheck("Initial cure of f'c 6,000 psi specimens, highest 79 and 78 F", "outside and inside 68 to 78 F", "ASTM C31/C31M, 10.1.2", SourceMark.Published)]
    [OutsideCheck("Specimens moulded 10:00 on day 0 and moved 10:30 on day 2", "48.5 h, longer than 48 h", "ASTM C31/C31M, 10.1.2", SourceMark.Published)]
    public void The_window_of_the_initial_cure_goes_by_design_strength(int design, string low, string high, string hours, int doubts) =>
        Assert.Equal(doubts, SpecimenCuring.InitialDoubts(design, D(low), D(high), D(hours)).Count);

    [Fact]
    [OutsideCheck("Longest time from the mould into the final cure", "30 min", "ASTM C31/C31M, 10.1.3", SourceMark.Published)]
    [OutsideCheck("Final cure", "73.5 +-3.5 F", "ASTM C31/C31M and C511", SourceMark.Memory)]
    public void The_final_cure_is_as_printed()
    {
        Assert.Equal(30m, SpecimenCuring.IntoFinalMinutes);
        Assert.Equal((73.5m - 3.5m, 73.5m + 3.5m), SpecimenCuring.FinalF);
    }

    [Fact]
    public void Every_fault_of_an_initial_cure_is_named() =>
        Assert.Equal(["the initial cure fell to 50 F, below 68 F", "the initial cure rose to 90 F, above 78 F", "the initial cure lasted 70 h, longer than 48 h"], SpecimenCuring.InitialDoubts(7000, 50, 90, 70));

    [Theory]
    [InlineData("24", "0.5")]
    [InlineData("72", "2")]
    [InlineData("168", "6")]
    [InlineData("672", "20")]
    [InlineData("2160", "48")]
    [OutsideCheck("Tolerance of test ages 24 h, 3, 7, 28 and 90 d", "+-0.5, 2, 6, 20, 48 h", "ASTM C39/C39M, permissible time tolerance", SourceMark.Published)]
    public void A_test_age_has_the_tolerance_of_the_table(string age, string tolerance) => Assert.Equal(D(tolerance), TestAge.ToleranceHours(D(age)));

    [Theory]
    [InlineData("12", "0.25")]
    [InlineData("336", "6.72")]
    [InlineData("1344", "26.88")]
    [OutsideCheck("Tolerance of 12 h, and of 14 and 56 d, which the table does not name", "+-0.25 h; +-2 % of the age: 6.72 and 26.88 h", "ASTM C39/C39M, permissible time tolerance", SourceMark.Memory)]
    public void An_age_outside_the_table_has_two_percent(string age, string tolerance) => Assert.Equal(D(tolerance), TestAge.ToleranceHours(D(age)));

    [Fact]
    [OutsideCheck("Window of 28 d of a cylinder cast 2026-03-02T09:30-05:00; a wall clock would end it at 05:30", "2026-03-29T14:30-04:00 to 2026-03-31T06:30-04:00", "ASTM C39/C39M, 28 d +-20 h", SourceMark.Published)]
    public void The_window_is_two_moments_whatever_the_clocks_did()
    {
        var (first, last) = TestAge.Window(At("2026-03-02T09:30:00-05:00"), 672, TestAge.ToleranceHours(672));
        Assert.Equal((At("2026-03-29T14:30:00-04:00"), At("2026-03-31T06:30:00-04:00")), (first, last));
    }

    [Fact]
    public void A_break_is_at_its_age_exactly_inside_the_window() => Gen.Select(Gen.Int[1, 3000], Gen.Int[-7200, 7200]).Sample((hours, minutes) =>
    {
        var cast = At("2026-10-20T09:30:00-04:00");
        var tolerance = TestAge.ToleranceHours(hours);
        var (first, last) = TestAge.Window(cast, hours, tolerance);
        // The same moment read at another offset: the clocks were set back in between.
        var broken = cast.AddHours(hours).AddMinutes(minutes).ToOffset(TimeSpan.FromHours(-5));
        Assert.Equal(broken >= first && broken <= last, TestAge.IsAt(cast, broken, hours, tolerance));
    });

    [Fact]
    [OutsideCheck("Loading rate of a 6 in specimen over the second half: half load at 60 s, 113,100 lbf at 117 s", "35.1 psi/s, inside 35 +-7 psi/s", "ASTM C39/C39M, rate of loading", SourceMark.Published, Tolerance = "0.05 psi/s")]
    public void The_loading_rate_is_that_of_the_second_half()
    {
        var rate = Breaking.SecondHalfRatePsiPerS([(0, 0), (60, 56550), (117, 113100), (118, 90000)], Strength.AreaIn2(6))!.Value;
        Assert.Equal(35.1m, decimal.Round(rate, 1));
        Assert.True(Breaking.RateAllowed(rate));
    }

    [Theory]
    [InlineData("28", true)]
    [InlineData("42", true)]
    [InlineData("27.99", false)]
    [InlineData("42.01", false)]
    [OutsideCheck("Loading rate allowed", "28 to 42 psi/s (35 +-7)", "ASTM C39/C39M, rate of loading", SourceMark.Published)]
    public void The_rate_turns_exactly_at_its_limits(string rate, bool allowed) => Assert.Equal(allowed, Breaking.RateAllowed(D(rate)));

    [Fact]
    public void Without_readings_of_the_second_half_there_is_no_rate()
    {
        Assert.Null(Breaking.SecondHalfRatePsiPerS([(0, 0)], 12));
        Assert.Null(Breaking.SecondHalfRatePsiPerS([(0, 900), (1, 1000)], 12));
        Assert.Null(Breaking.SecondHalfRatePsiPerS([(5, 0), (5, 1000)], 12));
        Assert.Throws<ArgumentOutOfRangeException>(() => Breaking.SecondHalfRatePsiPerS([], 0));
    }

    [Theory]
    [InlineData(50, false, 1500, 6000, 100)]
    [InlineData(60, false, 2500, 7000, 100)]
    [InlineData(70, false, 4000, 7000, 100)]
    [InlineData(70, true, 7000, 12000, 50)]
    [OutsideCheck("Unbonded pads of hardness 50, 60, 70, and 70 qualified: strengths and uses", "1,500-6,000; 2,500-7,000; 4,000-7,000 psi, 100 uses; 7,000-12,000 psi, 50 uses", "ASTM C1231/C1231M, Table 1", SourceMark.Memory)]
    public void A_pad_is_good_for_strengths_by_its_hardness(int hardness, bool qualified, int least, int greatest, int uses)
    {
        var pad = Breaking.Pad(hardness, qualified)!;
        Assert.Equal(new PadLimits(least, greatest, uses), pad);
        Assert.True(pad.Allows(least, uses - 1) && pad.Allows(greatest, 0));
        Assert.False(pad.Allows(least - 1, 0) || pad.Allows(greatest + 1, 0) || pad.Allows(least, uses));
        Assert.Null(Breaking.Pad(80));
    }

    [Theory]
    [InlineData("6.12", true)]
    [InlineData("6.42", true)]
    [InlineData("6.11", false)]
    [InlineData("6.43", false)]
    [OutsideCheck("Retaining ring of a 6 in specimen", "6.12 to 6.42 in (102 to 107 %)", "ASTM C1231/C1231M", SourceMark.Published)]
    public void A_ring_fits_by_its_share_of_the_diameter(string ring, bool fits) => Assert.Equal(fits, Breaking.RingFits(D(ring), 6));

    [Fact]
    [OutsideCheck("Ends out of square by 0.5 degree: rise over 12 and 8 in", "1/8 and 1/12 in, rounded", "ASTM C39/C39M and C1231/C1231M", SourceMark.Published, Tolerance = "0.03 in")]
    [OutsideCheck("Depression of an end before unbonded caps; uses of sulphur mortar", "0.20 in, 5 times", "ASTM C1231/C1231M and C617/C617M", SourceMark.Published)]
    public void Ends_and_mortar_have_their_limits()
    {
        var rise = Math.Tan((double)Breaking.EndsOutOfSquareDeg * Math.PI / 180);
        Assert.Equal(0.125, 12 * rise, 0.03);
        Assert.Equal(1 / 12.0, 8 * rise, 0.03);
        Assert.Equal((0.20m, 5), (Breaking.DepressionIn, Breaking.SulphurUses));
    }

    [Theory]
    [InlineData(5000, "0.25", "0.3125", 2)]
    [InlineData(5001, "0.25", "0.3125", 16)]
    [InlineData(7000, "0.25", "0.3125", 16)]
    [InlineData(7001, "0.125", "0.1875", 16)]
    [OutsideCheck("Bonded caps up to and above 7,000 psi; age of sulphur caps up to and above 5,000 psi", "mean 1/4 and 1/8, single 5/16 and 3/16 in; 2 and 16 h", "ASTM C617/C617M", SourceMark.Memory)]
    public void A_bonded_cap_is_thinner_and_older_for_stronger_concrete(int psi, string mean, string single, int hours) =>
        Assert.Equal((D(mean), D(single), hours), Breaking.BondedCap(psi));

    [Fact]
    [OutsideCheck("Types of fracture", "six: cones, cone and cracks, columnar, diagonal, side, side and pointed", "ASTM C39/C39M, figure of fracture types", SourceMark.Memory)]
    public void Six_types_of_fracture_are_known()
    {
        Assert.Equal(6, Enumerable.Range(0, 9).Count(t => Breaking.Fracture(t) is not null));
        Assert.Contains("cones on both ends", Breaking.Fracture(1)!, StringComparison.Ordinal);
        Assert.Contains("diagonal", Breaking.Fracture(4)!, StringComparison.Ordinal);
        Assert.Contains("pointed", Breaking.Fracture(6)!, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("1.00", "0.87")]
    [InlineData("1.25", "0.93")]
    [InlineData("1.50", "0.96")]
    [InlineData("1.75", "0.98")]
    [InlineData("1.76", "1")]
    [OutsideCheck("Factor for length over diameter 1.00, 1.25, 1.50, 1.75 and above", "0.87, 0.93, 0.96, 0.98, none", "ASTM C39/C39M, section 8", SourceMark.Memory)]
    public void The_length_factor_has_the_points_of_the_table(string ratio, string factor) => Assert.Equal(D(factor), Strength.LengthFactor(D(ratio), 1));

    [Theory]
    [InlineData("78450", "4.01", "42.8")]
    [InlineData("113100", "6", "27.6")]
    [OutsideCheck("78,450 lbf on 4.01 in and 113,100 lbf on 6 in in SI units", "42.8 and 27.6 MPa", "ASTM C39/C39M, reported to 0.1 MPa", SourceMark.Published, Tolerance = "0.05 MPa")]
    public void Strength_in_megapascals_is_the_same_strength(string lbf, string diameter, string mpa)
    {
        var inSi = D(lbf) * 4.4482216152605m / Strength.AreaIn2(D(diameter) * 25.4m);
        Assert.Equal(D(mpa), decimal.Round(inSi, 1));
        Assert.Equal(inSi, D(lbf) / Strength.AreaIn2(D(diameter)) * 0.00689475729316836m, 10);
    }

    [Theory]
    [InlineData("2026-04-09", true)]
    [InlineData("2026-04-10", true)]
    [InlineData("2026-04-11", false)]
    [OutsideCheck("Compression machine verified 2025-03-10, tests of 2026-04-09 and 2026-04-11", "inside and outside 13 months", "ASTM C39/C39M, verification of the machine", SourceMark.Memory)]
    public void A_compression_machine_is_good_for_thirteen_months(string day, bool good) =>
        Assert.Equal(good, DateOnly.Parse(day, System.Globalization.CultureInfo.InvariantCulture) <= Validity.LastDay(new(2025, 3, 10), Validity.CompressionMachineMonths));

    [Theory]
    [InlineData("1.4", "2025-03-10", true)]
    [InlineData("1.4", "2026-03-02", true)]
    [InlineData("-1.4", "2025-12-01", true)]
    [InlineData("1.4", "2025-03-09", false)]
    [InlineData("1.4", "2026-03-03", false)]
    [InlineData("1.0", "2025-12-01", false)]
    [OutsideCheck("Machine found 1.4 % out on 2026-03-02, last good 2025-03-10", "every break of 2025-03-10 to 2026-03-02 in doubt", "AASHTO T 22, error at most 1.0 % of the load", SourceMark.Published)]
    public void A_machine_found_out_puts_everything_since_the_last_good_check_in_doubt(string error, string day, bool doubt) =>
        Assert.Equal(doubt, Validity.InDoubt(DateOnly.Parse(day, System.Globalization.CultureInfo.InvariantCulture), new(2025, 3, 10), new(2026, 3, 2), D(error), Validity.CompressionMachineErrorPct));

    [Fact]
    [OutsideCheck("Field testing technician certified 2021-06-15: test of 2026-06-14, -15 and -16", "good; by \"through\" or \"until\"; not good (5 years)", "ACI Field Testing Technician Grade I, program", SourceMark.Published)]
    public void A_certificate_of_five_years_ends_through_or_until_its_day()
    {
        var issued = new DateOnly(2021, 6, 15);
        var (through, until) = (Validity.LastDay(issued, 12 * Validity.TechnicianYears), Validity.LastDay(issued, 12 * Validity.TechnicianYears, through: false));
        Assert.Equal((new DateOnly(2026, 6, 15), new DateOnly(2026, 6, 14)), (through, until));
    }
}
