using System.Net;
using System.Net.Sockets;
using System.Text.Json;
using Npgsql;

namespace Traceability.Faults.Tests;

/// <summary>Database and broker that take encrypted connections alone: ssl and hostssl in PostgreSQL, a listener for TLS and no other in RabbitMQ.</summary>
public sealed class EncryptionTests
{
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(60);

    [Fact]
    public async Task Over_encrypted_connections_alone_a_fact_is_recorded_and_with_a_foreign_authority_or_plain_nothing_is_and_the_words_say_why()
    {
        using var authority = new TestAuthority("the plant's authority");
        using var foreign = new TestAuthority("another authority");
        await using var plant = await Installation.StartAsync(authority);
        var foreignFile = foreign.Save(plant.At("foreign.crt"));
        using var http = new HttpClient();

        // To the end: over the bus, recorded, given its leaf.
        using (var taken = await http.SendAsync(To(plant.Web, plant.OneFact()))) Assert.Equal(HttpStatusCode.Accepted, taken.StatusCode);
        await EventuallyAsync(async () => await ScalarAsync(plant.Database, "select count(*) from trace.record r join trace.log_leaf l on l.record_id = r.id where r.stream = 'unit:ONE-1'") == 1, () => "the fact is recorded");
        var recorded = await ScalarAsync(plant.Database, "select count(*) from trace.record");

        // And every connection of it was encrypted: the database says so of each, the broker answers in nothing else.
        Assert.True(await ScalarAsync(plant.Database, "select count(*) from pg_stat_activity a join pg_stat_ssl s using (pid) where a.application_name = 'traceability'") > 0);
        Assert.Equal(0, await ScalarAsync(plant.Database, "select count(*) from pg_stat_activity a join pg_stat_ssl s using (pid) where a.application_name = 'traceability' and not (s.ssl and s.version in ('TLSv1.2', 'TLSv1.3'))"));
        Assert.StartsWith("amqps://", plant.Broker, StringComparison.Ordinal);
        Assert.False(await AnswersInPlainAsync(new Uri(plant.Broker)));

        // The broker behind a foreign authority, or plain: intake says later, readiness why.
        await RefusesAsync("foreign-broker", "broker", "certificate was not accepted", ("RabbitMq__Authority", foreignFile));
        await RefusesAsync("plain-broker", "broker", "begins with amqps://", ("ConnectionStrings__RabbitMq", plant.Broker.Replace("amqps://", "amqp://", StringComparison.Ordinal)));
        // The right authority under a name that its certificate does not carry.
        await RefusesAsync("other-name", "broker", "certificate was not accepted", ("ConnectionStrings__RabbitMq", plant.Broker.Replace("127.0.0.1", "localhost", StringComparison.Ordinal)));

        // The database likewise: intake with a broker goes on without it and says so, whoever records does not start.
        var foreignDatabase = new NpgsqlConnectionStringBuilder(plant.Database) { RootCertificate = foreignFile }.ConnectionString;
        var plainDatabase = new NpgsqlConnectionStringBuilder(plant.Database) { SslMode = SslMode.Disable, RootCertificate = null }.ConnectionString;
        Assert.Contains("certificate was not accepted", await ReadinessAsync("foreign-database", "database", ("ConnectionStrings__Postgres", foreignDatabase)), StringComparison.Ordinal);
        Assert.Contains("SSL Mode=VerifyFull", await ReadinessAsync("plain-database", "database", ("ConnectionStrings__Postgres", plainDatabase)), StringComparison.Ordinal);
        foreach (var (name, connection, why) in new[] { ("foreign-worker", foreignDatabase, "The database's certificate was not accepted"), ("plain-worker", plainDatabase, "The database does not take this connection") })
        {
            plant.StartBeside(name, "worker", ("ConnectionStrings__Postgres", connection));
            Assert.Equal(2, await plant.EndAsync(name, Patience));
            Assert.Contains(why, plant.Said(name), StringComparison.Ordinal);
        }

        Assert.Equal(recorded, await ScalarAsync(plant.Database, "select count(*) from trace.record"));

        async Task RefusesAsync(string name, string check, string why, params (string, string)[] settings)
        {
            Assert.Contains(why, await ReadinessAsync(name, check, settings), StringComparison.Ordinal);
            using var refused = await http.SendAsync(To(plant.AddressOf(name), plant.OneFact()));
            Assert.Equal(HttpStatusCode.ServiceUnavailable, refused.StatusCode);
        }

        async Task<string> ReadinessAsync(string name, string check, params (string, string)[] settings)
        {
            var address = plant.StartBeside(name, "web", settings);
            var said = "";
            await EventuallyAsync(async () =>
            {
                try
                {
                    using var answer = await http.GetAsync(new Uri(address, "health/ready"));
                    said = (await JsonDocument.ParseAsync(await answer.Content.ReadAsStreamAsync())).RootElement.GetProperty("checks").GetProperty(check).GetProperty("says").GetString() ?? "";
                    Assert.Equal(HttpStatusCode.ServiceUnavailable, answer.StatusCode);
                    return !said.EndsWith("does not answer", StringComparison.Ordinal);
                }
                catch (HttpRequestException)
                {
                    return false;
                }
            }, () => $"{name} says why: it said '{said}'\n{plant.Logs()}");
            return said;
        }
    }

    private static HttpRequestMessage To(Uri service, HttpRequestMessage request)
    {
        request.RequestUri = new Uri(service, request.RequestUri!);
        return request;
    }

    // A broker greets whoever speaks AMQP 0-9-1 to it with a frame of method (1).
    private static async Task<bool> AnswersInPlainAsync(Uri broker)
    {
        using var client = new TcpClient();
        await client.ConnectAsync(broker.Host, broker.Port);
        var stream = client.GetStream();
        await stream.WriteAsync("AMQP\0\0\u0009\u0001"u8.ToArray());
        var answer = new byte[1];
        using var limit = new CancellationTokenSource(TimeSpan.FromSeconds(5));
        try
        {
            return await stream.ReadAsync(answer, limit.Token) == 1 && answer[0] == 1;
        }
        catch (IOException)
        {
            return false;
        }
    }

    private static async Task<long> ScalarAsync(string database, string sql)
    {
        await using var source = NpgsqlDataSource.Create(database);
        await using var command = source.CreateCommand(sql);
        return (long)(await command.ExecuteScalarAsync())!;
    }

    private static async Task EventuallyAsync(Func<Task<bool>> condition, Func<string> what)
    {
        var began = System.Diagnostics.Stopwatch.GetTimestamp();
        while (!await condition())
        {
            if (System.Diagnostics.Stopwatch.GetElapsedTime(began) > Patience) throw new TimeoutException($"not within {Patience.TotalSeconds:0} s: {what()}");
            await Task.Delay(100);
        }
    }
}
