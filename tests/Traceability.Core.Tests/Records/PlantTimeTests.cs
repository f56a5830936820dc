using System.Globalization;
using System.Text;
using System.Text.RegularExpressions;
using CsCheck;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;
using Traceability.Core.Records;
using Traceability.Core.Tests.Dossiers;
using Traceability.Core.Tests.Judging;
using Traceability.PlantSimulator.Story;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Records;

/// <summary>A day is a day of the plant, in whichever offset a station writes its times.</summary>
public sealed partial class PlantTimeTests
{
    private static PlantTime In(string zone) => new(zone, TimeZoneInfo.FindSystemTimeZoneById(zone).GetUtcOffset);

    private static DateTimeOffset At(string text) => DateTimeOffset.Parse(text, CultureInfo.InvariantCulture);

    [Theory]
    [OutsideCheck("Summer time in the United States, 2026: begins the second Sunday of March, ends the first Sunday of November, both at 2 o'clock; hours of those two days", "23 on 2026-03-08, 25 on 2026-11-01", "15 U.S.C. 260a", SourceMark.Published)]
    [InlineData("America/Chicago", "2026-03-08", "2026-03-08T00:00:00-06:00", 23)]
    [InlineData("America/Chicago", "2026-11-01", "2026-11-01T00:00:00-05:00", 25)]
    [InlineData("America/Phoenix", "2026-03-08", "2026-03-08T00:00:00-07:00", 24)]
    // Where the clock is put forward at midnight the day begins at one o'clock.
    [InlineData("Africa/Cairo", "2026-04-24", "2026-04-24T01:00:00+03:00", 23)]
    [InlineData("Etc/GMT+5", "2026-03-08", "2026-03-08T00:00:00-05:00", 24)]
    public void A_day_begins_at_midnight_of_the_plant_and_is_as_long_as_its_clock_makes_it(string zone, string day, string begins, double hours)
    {
        var (time, date) = (In(zone), DateOnly.Parse(day, CultureInfo.InvariantCulture));
        var (start, end) = (time.StartOf(date), time.StartOf(date.AddDays(1)));
        Assert.Equal((At(begins), At(begins).Offset), (start, start.Offset));
        Assert.Equal(hours, (end - start).TotalHours);
        Assert.Equal((date.AddDays(-1), date, date, date.AddDays(1)), (time.DayOf(start.AddTicks(-1)), time.DayOf(start), time.DayOf(end.AddTicks(-1)), time.DayOf(end)));
    }

    [Fact]
    public void Every_day_of_every_zone_begins_when_the_day_before_has_ended()
    {
        foreach (var zone in TimeZoneInfo.GetSystemTimeZones().Where(z => z.HasIanaId))
        {
            var time = new PlantTime(zone.Id, zone.GetUtcOffset);
            for (var day = new DateOnly(2026, 1, 1); day.Year < 2027; day = day.AddDays(1))
            {
                var start = time.StartOf(day);
                Assert.True(time.DayOf(start) == day && time.DayOf(start.AddTicks(-1)) == day.AddDays(-1), $"{zone.Id} {day:O}: {start:O}");
            }
        }
    }

    [Fact]
    public void In_which_offset_stations_write_their_times_changes_no_judgement()
    {
        Gen.Select(DossierGen.All, Gen.Int[0, 1000], Gen.Int[0, 60 * 24 * 60]).Sample((sent, seed, minutes) =>
        {
            var at = new DateTimeOffset(2026, 3, 2, 12, 0, 0, TimeSpan.Zero).AddMinutes(minutes);
            // A station sends the same event again with the same offset: other text under one id would be other content.
            var offsets = sent.Events.DistinctBy(e => (e.Source, e.Id)).Select((e, i) => (e.RecordId, Hours: (seed + i) % 27 - 12)).ToDictionary(e => e.RecordId, e => e.Hours);
            var (written, moved) = (Pool.Store(sent.Events), Pool.Store(sent.Events.Select(e => Moved(e, offsets[e.RecordId]))));
            foreach (var unit in sent.Units.Select(Subject.Unit))
                Assert.Equal(Judged(written, unit, at), Judged(moved, unit, at.ToOffset(TimeSpan.FromHours(seed % 14))));
        }, iter: 40);
    }

    [Fact]
    public void An_inspector_who_signs_in_the_evening_by_a_station_in_UTC_was_present_that_day()
    {
        // 20:30 at the plant is 01:30 of the next day in UTC.
        var evening = new DateTimeOffset(HoldCase.Pour.Date, HoldCase.Pour.Offset).AddHours(20.5);
        var present = HoldCase.BeforePour.PourRule(HoldAuthority.AgencyWitness, null, 24).Add(new AgencyPresent([Unit], HoldKind.Pour), evening.ToUniversalTime(), "p-301");
        var finding = present.Poured().Finding("pour.agency");
        Assert.Equal((Verdict.Met, true), (finding.Verdict, finding.Reason.Contains($"{evening:yyyy-MM-dd}", StringComparison.Ordinal)));
        var next = HoldCase.BeforePour.PourRule(HoldAuthority.AgencyWitness, null, 24).Add(new AgencyPresent([Unit], HoldKind.Pour), evening.AddHours(4).ToUniversalTime(), "p-301");
        Assert.Equal(Verdict.NotMet, next.Poured().Verdict("pour.agency"));
    }

    // Two contents under one id are told apart by their hashes, which change with the text.
    private static string Judged(Pool pool, Subject unit, DateTimeOffset at) => ContentHash().Replace(Encoding.UTF8.GetString(Judge.Dossier(pool.Gather(unit), at).Bytes), "");

    [GeneratedRegex("content [0-9a-f]{8}")]
    private static partial Regex ContentHash();

    // The same moments, written with another offset.
    private static CloudEvent Moved(CloudEvent sent, int hours) => CloudEvent.Read(Encoding.UTF8.GetBytes(Time().Replace(Encoding.UTF8.GetString(sent.Canonical.Span),
        m => '"' + At(m.Groups[1].Value).ToOffset(TimeSpan.FromHours(hours)).ToString("yyyy-MM-dd'T'HH:mm:ss.FFFFFFFzzz", CultureInfo.InvariantCulture) + '"')));

    [GeneratedRegex("\"([0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9:.]+(?:Z|[+-][0-9]{2}:[0-9]{2}))\"")]
    private static partial Regex Time();
}
