using System.Security.Cryptography;
using Microsoft.AspNetCore.Mvc;
using Npgsql;
using Traceability.Service.Operations;
using Traceability.Service.People;

namespace Traceability.Service.Decisions;

/// <summary>A document as it is kept.</summary>
public sealed record Kept(string Sha256, string MediaType, byte[] Bytes);

/// <summary>Letters and other documents that entries rest on, kept in the database under the SHA-256 of their bytes; never changed.</summary>
public sealed class Letters(NpgsqlDataSource source, TimeProvider clock)
{
    /// <summary>Largest document, bytes. Our own choice: a scanned letter of some pages.</summary>
    public const int Largest = 5 * 1024 * 1024;

    // What a document begins with says what it is; what a sender says is not believed.
    private static readonly (string MediaType, byte[] Begins)[] s_kinds =
    [
        ("application/pdf", "%PDF-"u8.ToArray()), ("image/png", [0x89, 0x50, 0x4E, 0x47, 0x0D, 0x0A, 0x1A, 0x0A]), ("image/jpeg", [0xFF, 0xD8, 0xFF]),
        ("image/tiff", [0x49, 0x49, 0x2A, 0x00]), ("image/tiff", [0x4D, 0x4D, 0x00, 0x2A]),
    ];

    /// <summary>The kinds of document that are taken.</summary>
    public static IReadOnlyList<string> MediaTypes { get; } = [.. s_kinds.Select(k => k.MediaType).Distinct()];

    /// <summary>Keeps a document; the same one again is the same one.</summary>
    public async Task<(Kept? Kept, Decided? Refused)> KeepAsync(byte[] bytes, string person, CancellationToken cancel)
    {
        if (bytes.Length == 0) return (null, Decided.Wrong("body", "must be a document, it is empty", "Choose the scanned letter."));
        if (bytes.Length > Largest) return (null, TooLarge(bytes.Length));
        if (s_kinds.FirstOrDefault(k => bytes.AsSpan().StartsWith(k.Begins)).MediaType is not { } type)
            return (null, Decided.Refused(415, "document-type", "This is not a document of a kind that is kept", $"body: must be one of {string.Join(", ", MediaTypes)}, by its first bytes. Save the letter as PDF, or scan it."));
        var hash = Convert.ToHexStringLower(SHA256.HashData(bytes));
        await using var command = source.CreateCommand("insert into trace.document (sha256, media_type, bytes, kept_by, kept_at) values ($1, $2, $3, $4, $5) on conflict do nothing");
        foreach (var value in new object[] { hash, type, bytes, person, clock.GetUtcNow().UtcDateTime }) command.Parameters.Add(new() { Value = value });
        await command.ExecuteNonQueryAsync(cancel);
        return (new(hash, type, bytes), null);
    }

    /// <summary>Keeps a document that came in a form.</summary>
    public async Task<(Kept? Kept, Decided? Refused)> KeepAsync(IFormFile file, string person, CancellationToken cancel)
    {
        if (file.Length > Largest) return (null, TooLarge(file.Length));
        using var bytes = new MemoryStream();
        await file.CopyToAsync(bytes, cancel);
        return await KeepAsync(bytes.ToArray(), person, cancel);
    }

    private static Decided TooLarge(long bytes) =>
        Decided.Refused(413, "too-large", "The document is too large", $"body: a document holds at most {Largest / 1024 / 1024} MB, this one {bytes} bytes. Scan it in gray at 200 dpi.");

    public async Task<Kept?> FindAsync(string sha256, CancellationToken cancel)
    {
        await using var command = source.CreateCommand("select media_type, bytes from trace.document where sha256 = $1");
        command.Parameters.Add(new() { Value = sha256 });
        await using var row = await command.ExecuteReaderAsync(cancel);
        return await row.ReadAsync(cancel) ? new(sha256, row.GetString(0), row.GetFieldValue<byte[]>(1)) : null;
    }

    internal static async Task<bool> HasAsync(NpgsqlConnection connection, string sha256, CancellationToken cancel)
    {
        await using var command = new NpgsqlCommand("select exists (select from trace.document where sha256 = $1)", connection) { Parameters = { new() { Value = sha256 } } };
        return (bool)(await command.ExecuteScalarAsync(cancel))!;
    }

    internal static Decided Absent(string field, string sha256) =>
        Decided.Wrong(field, $"must name an uploaded document; '{sha256}' is none", "Upload the letter first (POST /v1/documents) and send the sha256 of the answer.");
}

public static class LetterEndpoints
{
    public static void MapLetters(this IEndpointRouteBuilder app)
    {
        app.MapPost("/v1/documents", async (HttpContext http, Letters letters, CancellationToken cancel) =>
            {
                using var body = new MemoryStream();
                // One byte more than is kept is enough to know that it is too large.
                var buffer = new byte[81920];
                int read;
                while (body.Length <= Letters.Largest && (read = await http.Request.Body.ReadAsync(buffer, cancel)) > 0) body.Write(buffer, 0, read);
                var (kept, refused) = await letters.KeepAsync(body.ToArray(), http.User.PersonId(), cancel);
                return refused is not null ? refused.Result() : Results.Json(new { sha256 = kept!.Sha256, mediaType = kept.MediaType, bytes = kept.Bytes.Length }, statusCode: 201);
            })
            .WithMetadata(new RequestSizeLimitAttribute(Letters.Largest + 1024)).RequireAuthorization(Access.Letters).WithTags("Documents").WithSummary("Upload a letter; it is kept under the SHA-256 of its bytes")
            .WithDescription($"The body is the document itself: {string.Join(", ", Letters.MediaTypes)}, at most {Letters.Largest} bytes. Entries then name the answer's sha256.")
            .Accepts<byte[]>(Letters.MediaTypes[0], [.. Letters.MediaTypes.Skip(1)]).ProducesProblem(413).ProducesProblem(415).ProducesProblem(422);
        app.MapGet("/v1/documents/{sha256}", async (string sha256, HttpContext http, Letters letters, CancellationToken cancel) =>
            {
                if (await letters.FindAsync(sha256, cancel) is not { } kept)
                    return Problems.Result(Problems.Of(404, "document-unknown", "No such document", "sha256: nothing was uploaded under it. Take it from the record that names the letter."));
                // Opened by what reads documents, never by the page that links to it.
                http.Response.Headers.XContentTypeOptions = "nosniff";
                http.Response.Headers.ContentSecurityPolicy = "sandbox; default-src 'none'";
                return Results.File(kept.Bytes, kept.MediaType, $"{sha256[..12]}.{kept.MediaType.Split('/')[1]}");
            })
            .RequireAuthorization(Access.Read).WithTags("Documents").WithSummary("Read an uploaded letter").ProducesProblem(404);
    }
}
