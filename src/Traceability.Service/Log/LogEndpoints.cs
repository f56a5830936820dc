using System.Globalization;
using Microsoft.AspNetCore.Mvc;

namespace Traceability.Service.Log;

/// <summary>Proof of one record.</summary>
/// <param name="Record">The record's id.</param>
/// <param name="Index">Its leaf, from 0.</param>
/// <param name="Size">Leaves in the log at the checkpoint.</param>
/// <param name="LeafHash">SHA-256(0x00 || record bytes), hex.</param>
/// <param name="Root">Root at that size, hex.</param>
/// <param name="Hashes">From the leaf up, hex (RFC 6962 audit path).</param>
/// <param name="Checkpoint">The signed note.</param>
public sealed record ProofAnswer(
    Guid Record, long Index, long Size, string LeafHash, string Root, IReadOnlyList<string> Hashes, string Checkpoint);

/// <summary>Proof that one checkpoint's log begins with another's.</summary>
/// <param name="From">Leaves in the older log.</param>
/// <param name="To">Leaves in the newer.</param>
/// <param name="FromRoot">Root of the older, hex.</param>
/// <param name="ToRoot">Root of the newer, hex.</param>
/// <param name="Hashes">RFC 6962 consistency proof, hex.</param>
/// <param name="FromCheckpoint">Signed note of the older.</param>
/// <param name="ToCheckpoint">Signed note of the newer.</param>
public sealed record ConsistencyAnswer(
    long From, long To, string FromRoot, string ToRoot, IReadOnlyList<string> Hashes, string FromCheckpoint, string ToCheckpoint);

/// <summary>The log over HTTP: what a second party polls and keeps.</summary>
public static class LogEndpoints
{
    /// <summary>Maps <c>/v1/log/checkpoint</c>, <c>/v1/log/proof/{recordId}</c> and <c>/v1/log/consistency</c>.</summary>
    public static RouteGroupBuilder MapLog(this IEndpointRouteBuilder app)
    {
        var log = app.MapGroup("/v1/log").WithTags("Log");
        log.MapGet("/checkpoint", CheckpointAsync)
            .WithSummary("The newest signed checkpoint, as a C2SP signed note")
            .Produces<string>(StatusCodes.Status200OK, "text/plain").ProducesProblem(StatusCodes.Status404NotFound);
        log.MapGet("/proof/{recordId:guid}", ProofAsync)
            .WithSummary("Proof that a record is in the log the newest checkpoint signs")
            .Produces<ProofAnswer>().ProducesProblem(StatusCodes.Status404NotFound);
        log.MapGet("/consistency", ConsistencyAsync)
            .WithSummary("Proof that the log signed at one size begins with the log signed at another")
            .Produces<ConsistencyAnswer>().ProducesProblem(StatusCodes.Status400BadRequest).ProducesProblem(StatusCodes.Status404NotFound);
        return log;
    }

    private static async Task<IResult> CheckpointAsync(LogReader reader, CancellationToken cancellation) =>
        await reader.LatestAsync(cancellation) is { } latest ? Results.Text(latest.Note, "text/plain") : NothingSealed();

    private static async Task<IResult> ProofAsync(Guid recordId, LogReader reader, CancellationToken cancellation)
    {
        if (await reader.LatestAsync(cancellation) is not { } latest)
        {
            return NothingSealed();
        }

        if (await reader.IndexOfAsync(recordId, cancellation) is not { } index)
        {
            return NotFound("No such leaf", $"recordId: the log has no record {recordId}. A record just posted gets its leaf within seconds; ask again.");
        }

        if (index >= latest.Size)
        {
            return NotFound("Not sealed yet", string.Create(
                CultureInfo.InvariantCulture,
                $"recordId: leaf {index} comes after the {latest.Size} leaves sealed so far. Ask again in a few seconds."));
        }

        var proof = (await reader.ProveAsync([recordId], latest, cancellation))[0];
        return Results.Ok(new ProofAnswer(
            recordId, index, latest.Size, Hex(proof.LeafHash), Hex(latest.Root), [.. proof.Path.Select(Hex)], latest.Note));
    }

    private static async Task<IResult> ConsistencyAsync(
        [FromQuery] long from, [FromQuery] long to, LogReader reader, CancellationToken cancellation)
    {
        if (from < 1 || from > to)
        {
            return Results.Problem(
                $"from: must be at least 1 and at most to ({to}); it is {from}.", statusCode: StatusCodes.Status400BadRequest,
                title: "Sizes out of order");
        }

        return await reader.ConsistencyAsync(from, to, cancellation) is { } proof
            ? Results.Ok(new ConsistencyAnswer(
                from, to, Hex(proof.Older.Root), Hex(proof.Newer.Root), [.. proof.Hashes.Select(Hex)], proof.Older.Note, proof.Newer.Note))
            : NotFound("No such checkpoint", "from, to: both must be sizes at which a checkpoint of the log now in use was signed.");
    }

    private static string Hex(byte[] hash) => Convert.ToHexStringLower(hash);

    private static IResult NothingSealed() => NotFound("Nothing sealed yet", "The log has no checkpoint yet. The first follows the first record within seconds.");

    private static IResult NotFound(string title, string detail) =>
        Results.Problem(detail, statusCode: StatusCodes.Status404NotFound, title: title);
}
