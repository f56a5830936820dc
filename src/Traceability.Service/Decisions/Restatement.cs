using Npgsql;
using Traceability.Core.Events;
using Traceability.Core.Integrity;
using Traceability.Core.Records;

namespace Traceability.Service.Decisions;

/// <summary>What a record that says something anew turns in the units it bears on.</summary>
/// <param name="Units">How many units it bears on; at most one more than are judged.</param>
public sealed record Weighed(IReadOnlyList<Turned> Turns, int Units, bool IsBadNewsTakenBack)
{
    public bool TooMany => Units > Restatement.MostJudged;

    /// <summary>Whether a second person has to approve it.</summary>
    public bool NeedsSecond => Turns.Count > 0 || TooMany || IsBadNewsTakenBack;

    /// <summary>Why, for a person to read.</summary>
    public string Why => TooMany ? $"This record bears on more than {Restatement.MostJudged} units."
        : Turns.Count > 0 ? $"This takes away what is not met or not there: {string.Join("; ", Turns.Take(5).Select(t => $"{t.Requirement} of {t.Subject}"))}{(Turns.Count > 5 ? $" and {Turns.Count - 5} more" : "")}."
        : "This takes back a record that reports bad news.";
}

/// <summary>Restating an earlier record: who says anew what was said before may open a hold with it, so what it turns is judged before it counts.</summary>
public static class Restatement
{
    /// <summary>Units judged before and after; a record that bears on more always needs a second person. Our own choice: it bounds how long one change is judged, and how much a person is asked to look at.</summary>
    public const int MostJudged = 100;

    /// <summary>How long an author may fix an own slip alone, as long as no decision rests on the record. Our own choice: a shift with its overtime.</summary>
    public static readonly TimeSpan Shift = TimeSpan.FromHours(12);

    /// <summary>Judges the units above before and after a record that was just written in this sitting, which was rehearsed.</summary>
    /// <param name="earlier">The record it says anew; null where it names none.</param>
    internal static async Task<Weighed> WeighAsync(Sitting sitting, Record? earlier, CancellationToken cancel)
    {
        var units = await sitting.AboveAsync(earlier is null ? [] : [earlier.Position], MostJudged + 1, cancel);
        var turned = new List<Turned>();
        if (units.Count <= MostJudged)
        {
            foreach (var unit in units) turned.AddRange(Turned.ByRestating((await sitting.JudgeBeforeAsync(unit, cancel)).Judgement, (await sitting.JudgeAsync(unit, cancel)).Judgement));
        }

        return new(turned, units.Count, IsBadNews(earlier?.Fact));
    }

    /// <summary>Whether an author fixes an own slip of this shift, on which no decision rests yet.</summary>
    internal static async Task<bool> IsSlipAsync(Sitting sitting, Record earlier, string? person, DateTimeOffset now, CancellationToken cancel) =>
        person is not null && earlier.Person == person && now - earlier.ReceivedAt <= Shift && !IsBadNews(earlier.Fact)
        && await RestingAsync(sitting, earlier, await AffectedUnits.AboveAsync(sitting.Connection, [earlier.Position], MostJudged + 1, cancel), cancel) is null;

    // Without these a unit may stand better although no finding of its own was not met.
    private static bool IsBadNews(IFact? fact) => fact is NonconformanceRaised or UnitDamaged or UnitRejected or AgencyRejected or LotQuarantined or LoadRejected
        or ExceptionNoted or InstrumentFoundOut or DisplacementSeen or DrawingSuperseded or WeatherRead { RainedIn: true };

    /// <summary>The decision that rests on a record, in words; null when none does. A decision rests on every record that its judgement was made from; what was certified to somebody outside rests on all before it.</summary>
    internal static async Task<string?> RestingAsync(Sitting sitting, Record record, IReadOnlyList<Subject> units, CancellationToken cancel)
    {
        // Of so many not each is looked at, and one that is not may be the one.
        if (units.Count > MostJudged) return $"It bears on more than {MostJudged} units, and a decision may rest on it in one of them";
        foreach (var unit in units)
        {
            var file = (await sitting.JudgeBeforeAsync(unit, cancel)).File;
            if (file.Entries.FirstOrDefault(e => (e.Fact as IRelease)?.Basis.Position >= record.Position || (e.Fact as HoldOverridden)?.Basis.Position >= record.Position
                || (e.Fact as NonconformanceDisposed)?.Basis?.Position >= record.Position
                || (e.Fact is RecordPacketIssued or SupplementIssued or LoadCertificateIssued && e.Source.Position >= record.Position)) is { } decision)
                return $"Unit {unit.Id}: {Pages.Words.OfType(decision.Source.Type)} ({sitting.Time.Local(decision.Source.OccurredAt.At):yyyy-MM-dd HH:mm}), and that rests on it";
        }

        return null;
    }

    internal static async Task<Record?> FindAsync(NpgsqlConnection connection, Guid id, CancellationToken cancel)
    {
        await using var command = new NpgsqlCommand("select position, bytes from trace.record where id = $1", connection) { Parameters = { new() { Value = id } } };
        await using var row = await command.ExecuteReaderAsync(cancel);
        return await row.ReadAsync(cancel) ? Record.Read(row.GetFieldValue<byte[]>(1), row.GetInt64(0)) : null;
    }
}
