using Microsoft.AspNetCore.Http.Timeouts;
using System.Collections.Concurrent;
using System.Runtime.CompilerServices;
using System.Security.Claims;
using System.Threading.Channels;
using Npgsql;
using Traceability.Service.People;

namespace Traceability.Service.Board;

/// <summary>Tells open pages and kiosks that units changed: from the database's notifications to server-sent events.</summary>
public sealed class Notices(NpgsqlDataSource source) : BackgroundService
{
    private readonly ConcurrentDictionary<Channel<string>, byte> _open = new();

    public async IAsyncEnumerable<string> ListenAsync([System.Runtime.CompilerServices.EnumeratorCancellation] CancellationToken cancel)
    {
        var channel = Channel.CreateBounded<string>(new BoundedChannelOptions(1000) { FullMode = BoundedChannelFullMode.DropOldest });
        _open[channel] = 0;
        try
        {
            await foreach (var unit in channel.Reader.ReadAllAsync(cancel)) yield return unit;
        }
        finally
        {
            _open.TryRemove(channel, out _);
        }
    }

    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        while (!stoppingToken.IsCancellationRequested)
        {
            try
            {
                await using var connection = await source.OpenConnectionAsync(stoppingToken);
                connection.Notification += (_, n) =>
                {
                    foreach (var channel in _open.Keys) channel.Writer.TryWrite(n.Payload);
                };
                await using (var listen = new NpgsqlCommand("listen trace_units", connection)) await listen.ExecuteNonQueryAsync(stoppingToken);
                while (true) await connection.WaitAsync(stoppingToken);
            }
            catch (Exception e) when (e is not OperationCanceledException)
            {
                await Task.Delay(TimeSpan.FromSeconds(1), stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }
            catch (OperationCanceledException)
            {
                return;
            }
        }
    }
}

public static class NoticeEndpoints
{
    // A serial alone tells that another's unit exists and changed.
    private static async IAsyncEnumerable<string> Own(IAsyncEnumerable<string> serials, ClaimsPrincipal user, OwnContracts own, [EnumeratorCancellation] CancellationToken cancel)
    {
        await foreach (var serial in serials.WithCancellation(cancel))
        {
            if ((await own.OfAsync(user, [serial], cancel)).Count > 0) yield return serial;
        }
    }

    public static void MapNotices(this IEndpointRouteBuilder app) =>
        app.MapGet("/v1/notices", [DisableRequestTimeout] (Notices notices, HttpContext http, OwnContracts own, CancellationToken cancel) => TypedResults.ServerSentEvents(Own(notices.ListenAsync(cancel), http.User, own, cancel), "unit"))
            .RequireAuthorization(Access.Read).WithTags("Units").WithSummary("Server-sent events: serials of units that were assembled anew");
}
