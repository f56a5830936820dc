using Traceability.Core.Events;

namespace Traceability.PlantSimulator.Story;

/// <summary>
/// The story of an invented plant that casts rigid-frame units: pure and seeded, the same arguments give the same bytes.
/// Plant, agency, contract, people, mills and their numbers are invented; the figures are usual ones of the trade.
/// </summary>
public static class PlantStory
{
    /// <summary>Local time of the plant, as an offset from UTC.</summary>
    public static readonly TimeSpan PlantOffset = TimeSpan.FromHours(-5);

    private static readonly Mishaps[] Each =
    [
        Mishaps.LateMillCertificate, Mishaps.CoverMistyped, Mishaps.TicketTwice, Mishaps.OtherContentUnderOneId,
        Mishaps.LowStripSet, Mishaps.LapsedTechnician, Mishaps.MachineFoundOut, Mishaps.OutOfOrderArrival,
    ];

    /// <summary>Rigid-frame units from drawing to shipment and the 28-day breaks.</summary>
    /// <param name="seed">Decides every reading.</param>
    /// <param name="units">How many units are cast.</param>
    /// <param name="start">The first day; the office begins at 07:00 of the plant's day that holds it.</param>
    /// <param name="mishaps">What goes wrong.</param>
    /// <param name="key">Put before every identity, so that several stories can be in one store.</param>
    /// <param name="daysBetweenPours">Working days from one pour day to the next.</param>
    /// <param name="perDay">Units cast on one pour day, each in its own form.</param>
    /// <param name="until">Facts that would arrive and releases that would be made later are left out; null for the whole story.</param>
    public static Scenario RigidFrame(
        int seed, int units, DateTimeOffset start, Mishaps mishaps = Mishaps.None, string key = "",
        int daysBetweenPours = 1, int perDay = 2, DateTimeOffset? until = null)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(units, 1);
        ArgumentOutOfRangeException.ThrowIfLessThan(daysBetweenPours, 1);
        ArgumentOutOfRangeException.ThrowIfLessThan(perDay, 1);
        var local = start.ToOffset(PlantOffset);
        var day = new DateTimeOffset(local.Date, PlantOffset);
        var serials = Enumerable.Range(0, units).Select(i => $"{key}RF-{i + 1:D4}").ToList();
        var hit = Each.Where(m => mishaps.HasFlag(m)).Select((m, i) => (Mishap: m, Unit: serials[units == 1 ? 0 : (1 + i) % units]))
            .ToDictionary(x => x.Mishap, x => x.Unit);

        var stage = new Stage(seed, key, day);
        stage.OpenTheJob(units, perDay);
        for (var i = 0; i < units; i++)
        {
            var pourDay = WorkingDay(day, 3 + i / perDay * daysBetweenPours);
            var mine = hit.Where(h => h.Value == serials[i]).Aggregate(Mishaps.None, (all, h) => all | h.Key);
            stage.Unit(serials[i], i, i % perDay, pourDay, mine);
        }

        var facts = stage.Facts.Where(f => until is null || f.ArrivesAt <= until).OrderBy(f => f.ArrivesAt).ToList();
        var releases = stage.Releases.Where(r => until is null || r.At <= until).OrderBy(r => r.At).ToList();
        var end = facts.Select(f => f.ArrivesAt).Concat(releases.Select(r => r.At)).Max();
        return new Scenario(facts, releases, serials, hit, day, end);
    }

    /// <summary>The first day of a story whose last fact arrives on the day before the given one.</summary>
    public static DateTimeOffset StartFor(int units, DateTimeOffset endsBefore, int daysBetweenPours = 1, int perDay = 2)
    {
        // Working days to the last pour, weekends between them and at the start, then 28 days to the last break.
        var working = 3 + (units - 1) / perDay * daysBetweenPours;
        return endsBefore.AddDays(-(working + (working / 5 + 1) * 2 + 29));
    }

    /// <summary>The n-th working day after a day; pours, and with them all breaks at whole weeks, fall on Monday to Friday.</summary>
    private static DateTimeOffset WorkingDay(DateTimeOffset day, int n)
    {
        while (n > 0)
        {
            day = day.AddDays(1);
            if (day.DayOfWeek is not (DayOfWeek.Saturday or DayOfWeek.Sunday)) n--;
        }

        return day;
    }
}
