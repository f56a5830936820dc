using Traceability.Core.Events;
using Traceability.Core.Judging;
using static Traceability.Core.Tests.Judging.HoldCase;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Judging;

/// <summary>
/// What was known then and what is known now. A judgement as of a log position knows the records up to it; what comes later
/// changes today's judgement, marks the release that it contradicts, and leaves the release itself as it was.
/// </summary>
public sealed class ThenAndNowTests
{
    private const string Machine = "CM-1";

    private static DateOnly Stripped { get; } = DateOnly.FromDateTime(Good.RecordOf<UnitStripped>().Sent.Time.Date);

    private static UnitCase Released { get; } = Good.Without<UnitShipped>()
        .Add(new StripReleased(Unit, Basis), Good.RecordOf<UnitStripped>().OccurredAt.At.AddMinutes(-20), "p-102", id: "strip-1");

    private static UnitCase FoundOut(int daysAfter) =>
        Released.Add(new InstrumentFoundOut(Machine, Stripped.AddDays(daysAfter), R("2.5"), "reads high"), new DateTimeOffset(Stripped.AddDays(daysAfter), new TimeOnly(9, 0), TimeSpan.FromHours(-5)), id: "found");

    private static UnitCase UpTo(UnitCase unit, string id) => unit with { Records = [.. unit.Records.TakeWhile(r => r.Sent.Id != id)] };

    [Fact]
    public void A_machine_found_out_afterwards_makes_its_breaks_missing_now_and_contradicts_the_release_that_rested_on_them()
    {
        var now = FoundOut(20);
        Assert.Equal(Verdict.Met, UpTo(now, "found").Verdict("strip.strength"));
        Assert.Equal((HoldState.Released, false), (UpTo(now, "found").State(HoldKind.Strip), UpTo(now, "found").Hold(HoldKind.Strip).Contradicted));
        Assert.Equal(Verdict.Missing, now.Verdict("strip.strength"));
        Assert.Contains(now.Finding("strip.strength").SetAside, s => s.Why.Contains("found 2.5 % out", StringComparison.Ordinal));
        Assert.Equal((HoldState.Released, true), (now.State(HoldKind.Strip), now.Hold(HoldKind.Strip).Contradicted));
        Assert.Contains(AlarmKind.Contradicted, now.Hold(HoldKind.Strip).Alarms());
    }

    [Fact]
    public void A_machine_found_out_and_calibrated_anew_counts_again_from_then_on()
    {
        var before = FoundOut(-10);
        Assert.Equal(Verdict.Missing, before.Verdict("strip.strength"));
        var anew = before.Add(Good.RecordOf<InstrumentCalibrated>(c => c.Instrument == Machine).Fact is InstrumentCalibrated c
            ? c with { CalibratedOn = Stripped.AddDays(-9), ValidThrough = Stripped.AddYears(1), CertificateNumber = "CAL-2", AsFoundErrorPct = null } : throw new InvalidOperationException(), new DateTimeOffset(Stripped.AddDays(-9), new TimeOnly(9, 0), TimeSpan.Zero));
        Assert.Equal(Verdict.Met, anew.Verdict("strip.strength"));
    }

    [Fact]
    public void A_machine_found_high_on_the_day_it_was_used_is_not_believed_whether_calibrated_anew_that_day_or_not()
    {
        var old = (InstrumentCalibrated)Good.RecordOf<InstrumentCalibrated>(c => c.Instrument == Machine).Fact!;
        UnitCase Calibrated(UnitCase unit, string? asFound) => unit.Add(old with { CalibratedOn = Stripped, ValidThrough = Stripped.AddYears(1), CertificateNumber = "CAL-2", AsFoundErrorPct = asFound is null ? null : R(asFound) },
            new DateTimeOffset(Stripped, new TimeOnly(9, 0), TimeSpan.FromHours(-5)));
        Assert.Equal(Verdict.Met, Calibrated(Released, "0.4").Verdict("strip.strength"));
        Assert.Equal(Verdict.Missing, Calibrated(Released, "2.5").Verdict("strip.strength"));
        Assert.Equal(Verdict.Missing, Calibrated(Calibrated(Released, "2.5"), "0.1").Verdict("strip.strength"));
        Assert.Equal(Verdict.Missing, FoundOut(0).Verdict("strip.strength"));
        Assert.Equal(Verdict.Missing, Calibrated(FoundOut(0), null).Verdict("strip.strength"));
    }

    [Fact]
    public void A_certificate_that_came_late_makes_good_what_was_missing_then_and_the_breach_of_then_stays()
    {
        var late = Good.RecordOf<LotCertified>();
        var unit = BeforePour with { Records = [.. BeforePour.Records.Where(r => r.Id != late.Id)] };
        var poured = unit.Poured() with { Records = [.. unit.Poured().Records.Where(r => r.Id != late.Id)] };
        Assert.Equal(HoldState.PassedWithoutRelease, poured.State());
        var now = poured with { Records = [.. poured.Records, late] };
        Assert.Equal(Verdict.Met, now.Findings("tying.heats-certified").Select(f => f.Verdict).Distinct().Single());
        Assert.Equal((HoldState.PassedWithoutRelease, 0), (now.State(), now.Hold().OpenItems.Count));
    }
}
