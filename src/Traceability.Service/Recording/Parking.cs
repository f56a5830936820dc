using Npgsql;
using Traceability.Core.Records;
using Traceability.Service.People;

namespace Traceability.Service.Recording;

/// <summary>
/// Facts that spoiled their transaction and were set apart alone, so that no other fact waits for them. Once the cause is
/// fixed an administrator drives them through the recorder again, with the assurance they came with.
/// </summary>
public sealed class Parking(Recorder recorder, NpgsqlDataSource source, TimeProvider clock)
{
    private const string Columns = "id, content_hash, source, event_id, type, device, null::text, assurance, reason, bytes, received_at, parked_at, redriven_at, null::text, signature_key, signature";

    /// <summary>Those that wait, the oldest first, then those recorded last.</summary>
    public async Task<IReadOnlyList<SetApart>> ListAsync(CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        return
        [
            .. await SetApart.ReadAsync(connection, $"select {Columns} from trace.parked where redriven_at is null order by parked_at, id limit 200", cancel),
            .. await SetApart.ReadAsync(connection, $"select {Columns} from trace.parked where redriven_at is not null order by redriven_at desc, id limit 50", cancel),
        ];
    }

    /// <summary>Records the fact and marks it, in one transaction; it stays parked when it still cannot be recorded.</summary>
    public async Task<LetThrough> RedriveAsync(Guid id, string contentHash, CancellationToken cancel)
    {
        await using var writing = await recorder.BeginAsync(cancel);
        var entry = (await SetApart.ReadAsync(writing.Connection, $"select {Columns} from trace.parked where id = $1 and content_hash = $2", cancel, id, contentHash)).FirstOrDefault();
        if (entry is null) return new(null, null, "nothing is parked under this id with this content");
        if (entry.SettledAt is not null) return new(null, entry, "it was recorded already");
        Outcome outcome;
        try
        {
            outcome = (await writing.AddAsync([(entry.Received(), CloudEvent.ReadCanonical(entry.Bytes))], cancel))[0];
        }
        catch (Exception e) when (!Recorder.IsAway(e))
        {
            return new(null, entry, "it still cannot be recorded: " + e.Message);
        }

        await using (var mark = new NpgsqlCommand("update trace.parked set redriven_at = $3 where id = $1 and content_hash = $2", writing.Connection)
        { Parameters = { new() { Value = id }, new() { Value = contentHash }, new() { Value = clock.GetUtcNow().UtcDateTime } } })
        {
            await mark.ExecuteNonQueryAsync(cancel);
        }

        await writing.CommitAsync(cancel);
        return new(outcome, entry, null);
    }
}

public static class ParkingEndpoints
{
    public sealed record RedriveRequest(string ContentHash);

    public static void MapParking(this IEndpointRouteBuilder app)
    {
        app.MapGet("/v1/parked", async (Parking parking, CancellationToken cancel) => Results.Json((await parking.ListAsync(cancel)).Select(QuarantineEndpoints.View)))
            .RequireAuthorization(Access.SetApart).WithTags("Set apart").WithSummary("Parked facts: those that wait, then those recorded last");
        app.MapPost("/v1/parked/{id:guid}/redrive", async (Guid id, RedriveRequest request, Parking parking, CancellationToken cancel) =>
                QuarantineEndpoints.Answer(await parking.RedriveAsync(id, request.ContentHash, cancel)))
            .RequireAuthorization(Access.SetApart).WithTags("Set apart").WithSummary("Drive a parked fact through the recorder again").ProducesProblem(404).ProducesProblem(409);
    }
}
