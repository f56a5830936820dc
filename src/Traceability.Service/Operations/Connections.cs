using System.Net;
using System.Security.Authentication;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using Npgsql;

namespace Traceability.Service.Operations;

/// <summary>
/// Database and broker on another machine are reached encrypted, and the certificate they show is checked: passwords, and every record before it is sealed, pass
/// between. On this machine itself nobody else listens, and nothing is asked for.
/// </summary>
public static class Connections
{
    private const string Unless = "Where the way to it is this machine's own, as between containers of one engine, name the host in Connections:PlainTo.";

    /// <summary>Refuses a connection string whose connection to another machine could be read or answered by somebody else on the way.</summary>
    /// <exception cref="SettingException">It could, or the authority it names cannot be read.</exception>
    public static void CheckDatabase(IConfiguration configuration, string connection)
    {
        var settings = new NpgsqlConnectionStringBuilder(connection);
        if (settings.RootCertificate is { Length: > 0 } file) ReadAuthority(file, "Root Certificate in ConnectionStrings:Postgres");
        // VerifyFull alone asks whether the certificate is that host's; Prefer and Require take anybody's.
        if (settings.SslMode == SslMode.VerifyFull) return;
        if (Elsewhere(configuration, Hosts(settings.Host)) is { } host)
            throw new SettingException($"ConnectionStrings:Postgres: {host} is another machine, and the connection to it is not encrypted with its certificate checked. Put SSL Mode=VerifyFull into it, and Root Certificate=/path/ca.pem where the database's certificate is of an authority that this machine does not trust. {Unless}");
    }

    /// <inheritdoc cref="CheckDatabase"/>
    public static void CheckBroker(IConfiguration configuration, Uri address)
    {
        if (address.Scheme == "amqps") return;
        if (Elsewhere(configuration, [address.Host]) is { } host)
            throw new SettingException($"ConnectionStrings:RabbitMq: {host} is another machine, and amqp:// is not encrypted. Give an address that begins with amqps://, and RabbitMq:Authority where the broker's certificate is of an authority that this machine does not trust. {Unless}");
    }

    /// <summary>The certificates of an authority, from a file in PEM form.</summary>
    /// <exception cref="SettingException">There are none in it, or it cannot be read.</exception>
    public static X509Certificate2Collection ReadAuthority(string file, string setting)
    {
        try
        {
            var authority = new X509Certificate2Collection();
            authority.ImportFromPemFile(file);
            return authority.Count > 0 ? authority : throw new SettingException($"{setting}: {file} holds no certificate in PEM form (-----BEGIN CERTIFICATE-----).");
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or CryptographicException)
        {
            throw new SettingException($"{setting}: {file} cannot be read: {e.Message}", e);
        }
    }

    /// <summary>Why the database is there and does not come to a connection, in words for whoever sets it up; null when it is merely away.</summary>
    public static string? WhyNoDatabase(Exception? failure)
    {
        for (var e = failure; e is not null; e = e.InnerException)
        {
            switch (e)
            {
                case AuthenticationException: return $"the database's certificate was not accepted. It must name the host of ConnectionStrings:Postgres and be of an authority that this machine trusts, or of the one in Root Certificate";
                // 28000: pg_hba.conf has no line for such a connection; it may have one for an encrypted one.
                case PostgresException { SqlState: "28000" } refused: return $"the database does not take this connection ({refused.MessageText}). Where it takes encrypted ones only, put SSL Mode=VerifyFull into ConnectionStrings:Postgres";
                case PostgresException { SqlState: "28P01" }: return "the database does not take user and password of ConnectionStrings:Postgres";
                case NpgsqlException { InnerException: null } plain when plain.Message.StartsWith("SSL connection requested", StringComparison.Ordinal): return "the database offers no encryption, and ConnectionStrings:Postgres asks for it. Turn ssl on in PostgreSQL's settings";
            }
        }

        return null;
    }

    private static IEnumerable<string> Hosts(string? hosts) => (hosts ?? "").Split(',', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries);

    // Names are compared as written: what a name leads to can change after the start.
    private static string? Elsewhere(IConfiguration configuration, IEnumerable<string> hosts)
    {
        var plain = (configuration["Connections:PlainTo"] ?? "").Split(',', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries);
        return hosts.FirstOrDefault(h => !IsHere(h) && !plain.Select(WithoutPort).Contains(WithoutPort(h), StringComparer.OrdinalIgnoreCase));
    }

    // A path, or a name that begins with @, is a socket of this machine.
    private static bool IsHere(string host) => host[0] is '/' or '@' || string.Equals(WithoutPort(host), "localhost", StringComparison.OrdinalIgnoreCase)
        || (IPAddress.TryParse(WithoutPort(host), out var address) && IPAddress.IsLoopback(address));

    private static string WithoutPort(string host) => IPAddress.TryParse(host, out _) ? host
        : host[0] == '[' && host.IndexOf(']', StringComparison.Ordinal) is > 1 and var end ? host[1..end]
        : host.Split(':') is [var name, _] ? name : host;
}
