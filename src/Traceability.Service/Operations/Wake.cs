using Npgsql;

namespace Traceability.Service.Operations;

/// <summary>Waits for a PostgreSQL notification or for a while, whichever comes first. Reconnects by itself.</summary>
public sealed class Wake(NpgsqlDataSource source, string channel) : IDisposable
{
    private NpgsqlConnection? _connection;

    public async Task WaitAsync(TimeSpan longest, CancellationToken cancel)
    {
        try
        {
            if (_connection is null)
            {
                _connection = await source.OpenConnectionAsync(cancel);
                await using var listen = new NpgsqlCommand("listen " + channel, _connection);
                await listen.ExecuteNonQueryAsync(cancel);
            }

            await _connection.WaitAsync((int)longest.TotalMilliseconds, cancel);
        }
        catch (Exception e) when (e is NpgsqlException or IOException or InvalidOperationException)
        {
            Dispose();
            await Task.Delay(longest, cancel);
        }
    }

    public void Dispose()
    {
        _connection?.Dispose();
        _connection = null;
    }
}
