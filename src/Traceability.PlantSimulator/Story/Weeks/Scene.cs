using System.Globalization;
using System.Text.Json;
using Traceability.Core.Events;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.PlantSimulator.Story.Weeks;

/// <summary>What all chapters share: the calendar, the stations' pens, and the lists they write on.</summary>
internal sealed class Scene(int seed, DateTimeOffset firstDay)
{
    private readonly EventWriter _writer = new("", seed);
    private readonly List<StoryFact> _facts = [];
    private readonly List<Asked> _asked = [];
    private readonly List<string> _units = [];
    private readonly List<Expectation> _expectations = [];
    private int _ticket = 6100;

    /// <summary>Midnight of the first Monday.</summary>
    public DateTimeOffset FirstDay => firstDay;

    /// <summary>A moment of a week, counted from 1, by plant time.</summary>
    public DateTimeOffset At(int week, DayOfWeek day, double hour = 0) => firstDay.AddDays(7 * (week - 1) + ((int)day + 6) % 7).AddHours(hour);

    public static DateOnly Date(DateTimeOffset at) => DateOnly.FromDateTime(at.DateTime);

    /// <summary>A day so many days before the story begins.</summary>
    public DateOnly DaysAgo(int days) => Date(firstDay.AddDays(-days));

    public CloudEvent Send(Station station, Worker person, DateTimeOffset at, IFact fact, DateTimeOffset? arrives = null, string? id = null)
    {
        var written = _writer.Write(station, person, at, fact, id);
        // A station sends what it recorded a few seconds later.
        _facts.Add(new StoryFact(written, station.Device, arrives ?? at.AddSeconds(5), Favourable: true));
        return written;
    }

    public void Office(DateTimeOffset at, IFact fact) => Send(Plant.Office, Plant.QualityEngineer, at, fact);

    public void Release(string unit, HoldKind hold, DateTimeOffset at, bool refused = false) =>
        _asked.Add(new ReleaseAsked(at, Plant.Inspector, refused, unit, hold));

    /// <summary>A decision other than a release.</summary>
    public void Decide(DateTimeOffset at, Worker person, string door, object content, IFact fact, Worker? second = null, bool refused = false, Paper? letter = null) =>
        _asked.Add(new DecisionAsked(at, person, refused, door, JsonSerializer.SerializeToNode(content, JsonSerializerOptions.Web)!.AsObject(), fact, second, letter));

    public void Unit(string serial) => _units.Add(serial);

    public void Expect(Expectation expectation) => _expectations.Add(expectation);

    /// <summary>The next ticket of the batch computer.</summary>
    public BatchId Ticket(DateTimeOffset at) => new(Plant.Id, (++_ticket).ToString(CultureInfo.InvariantCulture), Date(at));

    /// <summary>Readings of one subject, the same whatever else happens in the story.</summary>
    public Readings ReadingsOf(string subject)
    {
        var hash = seed;
        foreach (var c in subject) hash = unchecked(hash * 31 + c);
        return new Readings(new Random(hash));
    }

    public Tale Told(DateTimeOffset until)
    {
        var facts = _facts.Where(f => f.ArrivesAt <= until).OrderBy(f => f.ArrivesAt).ToList();
        var asked = _asked.Where(a => a.At <= until).OrderBy(a => a.At).ToList();
        var known = facts.Select(f => f.Event.Type == "unit.scheduled.v1" ? f.Event.Data.GetProperty("unit").GetString() : null).ToHashSet();
        return new Tale(facts, asked, [.. _units.Where(known.Contains).Order(StringComparer.Ordinal)], _expectations, firstDay, until);
    }
}

/// <summary>Readings as instruments and tapes give them.</summary>
internal sealed class Readings(Random random)
{
    public static Reading R(string text) => Reading.Parse(text);

    public static Reading R(decimal value, int digits) => Reading.Parse(decimal.Round(value, digits).ToString("F" + digits, CultureInfo.InvariantCulture));

    public decimal Between(decimal low, decimal high) => low + (high - low) * (decimal)random.NextDouble();

    public T OneOf<T>(params T[] choices) => choices[random.Next(choices.Length)];

    /// <summary>A tape reading so many sixteenths of an inch beside a drawn one.</summary>
    public Reading Tape(Reading drawn, int leastSixteenths, int mostSixteenths) => Tape(drawn.Value + random.Next(leastSixteenths, mostSixteenths + 1) / 16m);

    public static Reading Tape(decimal inches)
    {
        int sixteenths = (int)(inches * 16), whole = sixteenths / 16, rest = sixteenths % 16, bottom = 16;
        while (rest > 0 && rest % 2 == 0) (rest, bottom) = (rest / 2, bottom / 2);
        return Reading.Parse(rest == 0 ? $"{whole}" : whole == 0 ? $"{rest}/{bottom}" : $"{whole} {rest}/{bottom}");
    }
}
