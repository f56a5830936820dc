using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.PlantSimulator.Story;

/// <summary>
/// The story of an invented plant that casts rigid-frame units: pure and seeded, the same arguments give the same bytes.
/// Plant, agency, contract, people, mills and their numbers are invented; the figures are usual ones of the trade.
/// </summary>
public static class PlantStory
{
    /// <summary>The plant's time zone: without summer time and without a place, as the plant is invented.</summary>
    public const string Zone = "Etc/GMT+5";

    /// <summary>Local time of the plant, as an offset from UTC.</summary>
    public static readonly TimeSpan PlantOffset = TimeSpan.FromHours(-5);

    public static readonly PlantTime Time = new(Zone, _ => PlantOffset);

    /// <summary>Working days from the first day to the first pour.</summary>
    private const int FirstPour = 3;

    private const int PerDay = 2;

    /// <summary>Rigid-frame units from drawing to shipment and the 28-day breaks, two a day on working days that follow each other.</summary>
    /// <param name="seed">Decides every reading.</param>
    /// <param name="units">How many units are cast.</param>
    /// <param name="start">The first day; the office begins at 07:00 of the plant's day that holds it.</param>
    /// <param name="mishaps">What goes wrong, each to a unit of its own while there are enough.</param>
    /// <param name="key">Put before every identity, so that several stories can be in one store.</param>
    public static Scenario RigidFrame(int seed, int units, DateTimeOffset start, Mishaps mishaps = Mishaps.None, string key = "")
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(units, 1);
        var castings = Enumerable.Range(0, units).Select(i => new Casting(FirstPour + i / PerDay)).ToList();
        var each = Enum.GetValues<Mishaps>().Where(m => m is not (Mishaps.None or Mishaps.All) && mishaps.HasFlag(m)).ToList();
        for (var i = 0; i < each.Count; i++)
        {
            var hit = units == 1 ? 0 : (1 + i) % units;
            castings[hit] = castings[hit] with { Mishaps = castings[hit].Mishaps | each[i] };
        }

        return RigidFrame(seed, castings, start, key);
    }

    /// <summary>Rigid-frame units, each with its own day and its own trouble.</summary>
    /// <param name="seed">Decides every reading.</param>
    /// <param name="castings">One for each unit.</param>
    /// <param name="start">The first day; the office begins at 07:00 of the plant's day that holds it.</param>
    /// <param name="key">Put before every identity, so that several stories can be in one store.</param>
    /// <param name="until">Facts that would arrive and releases that would be made later are left out; null for the whole story.</param>
    /// <param name="confirmed">
    /// Whether the quality engineer has confirmed every limit against a page, as a packet asks. The pages are invented like
    /// everything else; in a real plant a person reads them.
    /// </param>
    public static Scenario RigidFrame(
        int seed, IReadOnlyList<Casting> castings, DateTimeOffset start, string key = "", DateTimeOffset? until = null, bool confirmed = false)
    {
        var local = start.ToOffset(PlantOffset);
        var day = new DateTimeOffset(local.Date, PlantOffset);
        var serials = castings.Select((_, i) => $"{key}RF-{i + 1:D4}").ToList();
        var forms = castings.GroupBy(c => c.PourDay).Max(g => g.Count());
        var stage = new Stage(seed, key, day);
        stage.OpenTheJob(castings.Count, forms, confirmed);
        for (var i = 0; i < castings.Count; i++)
        {
            var form = castings.Take(i).Count(c => c.PourDay == castings[i].PourDay);
            stage.Unit(serials[i], i, form, WorkingDay(day, castings[i].PourDay), castings[i].Mishaps);
        }

        var facts = stage.Facts.Where(f => until is null || f.ArrivesAt <= until).OrderBy(f => f.ArrivesAt).ToList();
        var releases = stage.Releases.Where(r => until is null || r.At <= until).OrderBy(r => r.At).ToList();
        var end = facts.Select(f => f.ArrivesAt).Concat(releases.Select(r => r.At)).Max();
        return new Scenario(facts, releases, serials, castings, day, until ?? end);
    }

    /// <summary>The first day of a story whose last fact arrives on the day before the given one.</summary>
    public static DateTimeOffset StartFor(int units, DateTimeOffset endsBefore)
    {
        // Working days to the last pour, the weekends between, and 28 days to the last break.
        var working = FirstPour + (units - 1) / PerDay;
        return endsBefore.AddDays(-(working + (working / 5 + 1) * 2 + 29));
    }

    /// <summary>The n-th working day after a day; pours, and with them all breaks at whole weeks, fall on Monday to Friday.</summary>
    internal static DateTimeOffset WorkingDay(DateTimeOffset day, int n)
    {
        while (n > 0)
        {
            day = day.AddDays(1);
            if (day.DayOfWeek is not (DayOfWeek.Saturday or DayOfWeek.Sunday)) n--;
        }

        return day;
    }
}
