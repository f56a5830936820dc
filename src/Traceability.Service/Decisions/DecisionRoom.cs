using Microsoft.AspNetCore.Mvc;
using Npgsql;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.Service.Linking;
using Traceability.Service.Operations;
using Traceability.Service.People;
using Traceability.Service.Recording;

namespace Traceability.Service.Decisions;

/// <summary>What came of a decision: an answer, or the problem for which nothing was recorded.</summary>
public sealed record Decided(object? Answer, ProblemDetails? Problem)
{
    /// <summary>What stands in the way, where that is why.</summary>
    public IReadOnlyList<OpenItem> OpenItems { get; init; } = [];

    public static Decided Refused(int status, string type, string title, string detail, params (string Key, object? Value)[] more) => new(null, Problems.Of(status, type, title, detail + " Nothing was recorded.", more));

    public static Decided Wrong(string field, string limit, string remedy) => new(null, Wording(field, limit, remedy));

    public static ProblemDetails Wording(string field, string limit, string remedy) =>
        Problems.Of(422, "decision", "This cannot be decided so", $"{field}: {limit}. {remedy} Nothing was recorded.", ("errors", new[] { new { field, limit, remedy } }));

    public IResult Result() => Problem is { } problem ? Problems.Result(problem) : Results.Json(Answer, FactJson.Options, statusCode: 201);
}

/// <summary>A unit judged inside the writing transaction.</summary>
public sealed record JudgedUnit(Dossier Dossier, UnitFile File, Judgement Judgement)
{
    public Hold? Hold(HoldKind kind) => Judgement.Holds.FirstOrDefault(h => h.Kind == kind);

    public bool IsKnown => File.Entries.Count > 0 || File.SetAside.Count > 0;

    /// <summary>The profile's rule of a hold; null when it has none.</summary>
    public HoldRule? Rule(HoldKind kind) => File.Profile?.Fact.Holds?.Where(h => h.Hold == kind).MaxBy(h => h.Authority);
}

/// <summary>
/// One decision in the making: everything it reads and writes lies in the one writing transaction, so that no record can come
/// between the judgement and the decision that rests on it.
/// </summary>
/// <param name="now">In the plant's time, so that a record's day is the plant's.</param>
public sealed class Sitting(Writing writing, PlantTime time, DateTimeOffset now, string person, string assurance)
{
    public NpgsqlConnection Connection => writing.Connection;

    public PlantTime Time => time;

    public DateTimeOffset Now => now;

    public string Person => person;

    /// <summary>The day at the plant.</summary>
    public DateOnly Day => DateOnly.FromDateTime(now.DateTime);

    /// <summary>Judges a unit on every record there is, those of this sitting included, or as known at a position, each hashed anew.</summary>
    /// <exception cref="RecordChangedException">The stored bytes of one are not the ones that were recorded.</exception>
    public async Task<JudgedUnit> JudgeAsync(Subject unit, CancellationToken cancel, long? position = null)
    {
        var dossier = await DossierStore.LoadAsRecordedAsync(Connection, time, unit, position, cancel);
        var file = Assemble.Unit(dossier);
        return new(dossier, file, Judge.Unit(file, now));
    }

    /// <summary>The newest log position, records of this sitting included.</summary>
    public async Task<long> NewestAsync(CancellationToken cancel)
    {
        await using var newest = new NpgsqlCommand("select coalesce(max(position), 0) from trace.record", Connection);
        return (long)(await newest.ExecuteScalarAsync(cancel))!;
    }

    /// <summary>Keeps a judgement by its hash, and says what a decision that rests on it writes down.</summary>
    public async Task<DecisionBasis> RestOnAsync(JudgedUnit unit, CancellationToken cancel)
    {
        await using var keep = new NpgsqlCommand("insert into trace.judgement (hash, bytes) values ($1, $2) on conflict do nothing", Connection)
        { Parameters = { new() { Value = unit.Judgement.Hash }, new() { Value = unit.Judgement.Bytes } } };
        await keep.ExecuteNonQueryAsync(cancel);
        return new(unit.Dossier.Position, unit.Judgement.Hash, unit.Judgement.RulesVersion);
    }

    /// <summary>Writes the fact of the decision, by its person, signed with the PIN at this moment.</summary>
    /// <exception cref="FactShapeException">The content does not have the shape of its type.</exception>
    public Task<Outcome> WriteAsync(IFact fact, CancellationToken cancel)
    {
        _wrote.Add(FactCatalog.Of(fact).Name);
        return writing.AddOwnAsync(fact, now, person, "pin", assurance, cancel);
    }

    private readonly List<string> _wrote = [];

    /// <summary>Names of the facts it wrote.</summary>
    public IReadOnlyList<string> Wrote => _wrote;
}

/// <summary>What a decision rests on, as its answer says it.</summary>
public sealed record RestsOn(long Position, string Judgement, string Rules)
{
    public static RestsOn Of(DecisionBasis basis) => new(basis.Position, basis.JudgementHash, basis.Rules);
}

/// <summary>A second person's approval, signed at this moment.</summary>
public sealed record Approval(string? By, string? Pin);

/// <summary>Where decisions are taken: signed with the PIN, judged now, stored with what they rest on, or refused with the reason.</summary>
public sealed partial class DecisionRoom(Recorder recorder, Signing signing, Register register, TimeProvider clock, PlantTime time, SecurityLog security, ILogger<DecisionRoom> log, ScenarioClock? scenario = null)
{
    /// <summary>Takes a decision. What it wrote stays only when it answers without a problem.</summary>
    /// <param name="second">The second approver, where one signs: another person, allowed to, with an own PIN at this moment.</param>
    public async Task<Decided> SitAsync(string person, string? pin, Func<Sitting, Task<Decided>> decide, CancellationToken cancel, Approval? second = null)
    {
        Sitting? sat = null;
        var decided = await TakeAsync(person, pin, sitting => decide(sat = sitting), cancel, second);
        security.Decided(person, sat is null ? "not begun" : string.Join(", ", sat.Wrote), decided.Problem?.Type);
        return decided;
    }

    private async Task<Decided> TakeAsync(string person, string? pin, Func<Sitting, Task<Decided>> decide, CancellationToken cancel, Approval? second)
    {
        // Before the transaction, which every other writer waits for.
        if (signing.Pin(person, pin).Problem is { } unsigned) return new(null, unsigned);
        if (second is not null && Refusal(person, second) is { } unapproved) return new(null, unapproved);
        try
        {
            await using var writing = await recorder.BeginAsync(cancel);
            var decided = await decide(new Sitting(writing, time, time.Local(clock.GetUtcNow()), person, "service" + (scenario is null ? "" : ", scenario clock")));
            if (decided.Problem is null) await writing.CommitAsync(cancel);
            return decided;
        }
        catch (FactShapeException e)
        {
            return new(null, Problems.Shape(e.Problems));
        }
        catch (RecordChangedException e)
        {
            LogChanged(log, e.Record.Position, e.Record.Type);
            var at = time.Local(e.Record.RecordedAt);
            return Decided.Refused(409, "record-changed", "A record was changed in the database",
                string.Create(System.Globalization.CultureInfo.InvariantCulture, $"The record of {at:yyyy-MM-dd HH:mm:ss}, {Pages.Words.OfType(e.Record.Type)}, is not as it was recorded. Nothing is decided on it. Call the administrator: restore it from the backup."),
                ("record", e.Record.Id), ("position", e.Record.Position));
        }
    }

    private ProblemDetails? Refusal(string person, Approval approval)
    {
        var second = approval.By;
        if (string.IsNullOrWhiteSpace(second)) return Decided.Wording("secondApprover", "must be there", "A second person approves, who is not of production, with a PIN at this moment.");
        if (second == person) return Decided.Wording("secondApprover", "must be another person", "Nobody approves an own decision.");
        // Whoever is not in the register gets the answer of a wrong PIN, so that ids cannot be asked out.
        if (register.Person(second) is { } known && !WhoMay.ApprovesSecond(known.Roles)) return WhoMay.NotSecond(known);
        return signing.Pin(second, approval.Pin, asker: person).Problem;
    }

    [LoggerMessage(LogLevel.Critical, "No decision is taken on the record at position {Position}, {FactType}: its stored bytes are not the ones that were recorded")]
    private static partial void LogChanged(ILogger logger, long position, string factType);
}
